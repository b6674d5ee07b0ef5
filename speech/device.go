package speech

import (
	"fmt"
	"strings"

	"github.com/gordonklaus/portaudio"
)

// Device is a microphone or a loudspeaker, or both, as the machine has it.
type Device struct {
	Name    string
	System  string // the sound system that offers it, such as ALSA
	Inputs  int    // channels it can record, 0 for a loudspeaker
	Outputs int    // channels it can play, 0 for a microphone
	Rate    int    // its own rate, samples a second

	// What it is used for when no name is given.
	DefaultInput, DefaultOutput bool
}

// DeviceConfig chooses a device.
type DeviceConfig struct {
	// Name is the device's name or a part of it, in any case. Empty is the
	// machine's default.
	Name string

	// Rate is the rate at which the device is opened, for one that lies about
	// what it can do. 0 is 16 kHz where the device takes it, else the device's
	// own rate.
	Rate int
}

// direction tells the two uses of a device apart.
type direction struct {
	noun     string
	channels func(*portaudio.DeviceInfo) int
	standard func() (*portaudio.DeviceInfo, error)
}

func recording() direction {
	return direction{
		noun:     "microphone",
		channels: func(d *portaudio.DeviceInfo) int { return d.MaxInputChannels },
		standard: portaudio.DefaultInputDevice,
	}
}

func playing() direction {
	return direction{
		noun:     "loudspeaker",
		channels: func(d *portaudio.DeviceInfo) int { return d.MaxOutputChannels },
		standard: portaudio.DefaultOutputDevice,
	}
}

// choose finds the device that the name means: the one so called, else the
// first that has the name in its own.
func (d direction) choose(name string) (*portaudio.DeviceInfo, error) {
	all, err := portaudio.Devices()
	if err != nil {
		return nil, fmt.Errorf("list the sound devices: %w", err)
	}
	var able []*portaudio.DeviceInfo
	var names []string
	for _, one := range all {
		if d.channels(one) > 0 {
			able = append(able, one)
			names = append(names, one.Name)
		}
	}
	if len(able) == 0 {
		return nil, fmt.Errorf("%w: the machine has no %s: plug one in, or start the sound server", ErrNoDevice, d.noun)
	}
	if name == "" {
		if one, err := d.standard(); err == nil && d.channels(one) > 0 {
			return one, nil
		}
		return able[0], nil
	}
	for _, matches := range []func(string) bool{
		func(n string) bool { return strings.EqualFold(n, name) },
		func(n string) bool { return strings.Contains(strings.ToLower(n), strings.ToLower(name)) },
	} {
		for _, one := range able {
			if matches(one.Name) {
				return one, nil
			}
		}
	}
	return nil, fmt.Errorf("%w: no %s has %q in its name: choose from %s", ErrNoDevice, d.noun, name, strings.Join(names, ", "))
}

func listDevices() ([]Device, error) {
	all, err := portaudio.Devices()
	if err != nil {
		return nil, fmt.Errorf("list the sound devices: %w", err)
	}
	in, _ := portaudio.DefaultInputDevice()
	out, _ := portaudio.DefaultOutputDevice()
	var devices []Device
	for _, one := range all {
		devices = append(devices, Device{
			Name: one.Name, System: one.HostApi.Name, Rate: int(one.DefaultSampleRate),
			Inputs: one.MaxInputChannels, Outputs: one.MaxOutputChannels,
			DefaultInput: one == in, DefaultOutput: one == out,
		})
	}
	if len(devices) == 0 {
		return nil, fmt.Errorf("%w: the machine has neither microphone nor loudspeaker: plug one in, or start the sound server", ErrNoDevice)
	}
	return devices, nil
}

// rate is the rate at which to open a device: the program's own where it takes
// that.
func (d direction) rate(device *portaudio.DeviceInfo) int {
	p := portaudio.StreamParameters{SampleRate: Rate}
	one := portaudio.StreamDeviceParameters{Device: device, Channels: 1}
	if d.noun == recording().noun {
		p.Input = one
	} else {
		p.Output = one
	}
	if portaudio.IsFormatSupported(p, func([]int16) {}) == nil {
		return Rate
	}
	return int(device.DefaultSampleRate)
}
