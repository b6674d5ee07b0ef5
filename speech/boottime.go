package speech

import (
	"time"

	"golang.org/x/sys/unix"
)

// Boottime is the time since the machine started, standby included
// (CLOCK_BOOTTIME): the clock of [Source.Anchor]. Nobody can set it.
func Boottime() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts); err != nil {
		return 0 // since Linux 2.6.39 there is no such error
	}
	return time.Duration(ts.Nano())
}
