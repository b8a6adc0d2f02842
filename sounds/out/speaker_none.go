//go:build !darwin && !windows && !alsa

package out

import "errors"

func openSpeaker() (Output, error) {
	return nil, errors.New("no sound: this program was built without a speaker of its own; on Linux use pulse")
}
