// Package outtest runs a real sound server for tests, without a sound card, and
// records what it plays.
//
// All of it has the build tag real. It needs PulseAudio, parec, pactl and
// aubioonset (Debian: pulseaudio, pulseaudio-utils, aubio-tools). [StartPipeWire]
// needs pipewire, wireplumber, pipewire-pulse and dbus-daemon, and [Server.ALSA]
// libasound2-plugins. A test fails where they are missing.
//
// # When was it heard
//
// The server plays into a null sink, whose clock is the system's, and a recorder
// reads the sink's monitor. The sink takes sound in pieces of some 5 ms, each
// when its first sample is due, and the recorder gets it at once. So each piece
// tells when the recording began. A busy machine makes pieces late, and a sink
// that takes a piece back may make one early, so the answer used is earlier than
// most but not the earliest. Counting gives the times of all samples, to about a
// millisecond (a few with PipeWire, whose recorder gets its pieces later). Within
// one recording the counting is exact, so it shows any gap or drift.
//
// Whatever is playing when a stream begins is heard to its end, so the first
// piece of a stream may be missing from a recording.
package outtest
