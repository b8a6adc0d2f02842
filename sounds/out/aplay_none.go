//go:build !linux

package out

import "errors"

func openAplay(func(error)) (Output, error) {
	return nil, errors.New("aplay: it is a Linux program (use auto)")
}
