//go:build !linux

package out

import "errors"

func openAplay(func(error)) (Output, error) {
	return nil, errors.New("aplay: it is a program of Linux (use auto)")
}
