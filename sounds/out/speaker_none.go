//go:build !darwin && !windows && !alsa

package out

import "errors"

func openSpeaker() (Output, error) {
	return nil, errors.New("the speaker: this program was built without it (on Linux use pulse or aplay)")
}
