package courier_test

import (
	"testing"

	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/courier/couriertest"
)

func TestMemoryKeepsTheContract(t *testing.T) {
	couriertest.Run(t, func(*testing.T) couriertest.Fixture {
		m := courier.NewMemory("Kettle Street", "lift-2", "pit", "lift-3")
		bays := map[string]courier.Shop{}
		for _, name := range []string{"lift-2", "pit", "lift-3"} {
			bays[name] = m.Bay(name)
		}
		return couriertest.Fixture{Bay: func(name string) courier.Shop { return bays[name] }, Held: m.Held, Rest: m.Rest}
	})
}
