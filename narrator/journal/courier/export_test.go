package courier

import "time"

// Hurry makes a courier try and look as often as a test can wait for.
func Hurry(c *Courier) *Courier {
	c.pace = pace{first: 2 * time.Millisecond, longest: 20 * time.Millisecond, patience: 10 * time.Second, linger: time.Millisecond,
		look: 10 * time.Millisecond, round: 40 * time.Millisecond}
	return c
}

// Waits are the rests after so many failures, at least and at most.
func Waits(tries int, err error) (least, most time.Duration) {
	least = time.Hour
	for range 200 {
		w := usual.wait(tries, err)
		least, most = min(least, w), max(most, w)
	}
	return least, most
}

// Impatient makes a courier wait no longer than this for an answer.
func Impatient(c *Courier, patience time.Duration) *Courier {
	Hurry(c)
	c.pace.patience = patience
	return c
}
