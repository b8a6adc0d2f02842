// Package outtest runs a real sound server for tests, without a sound card,
// and records what it plays.
//
// All of it has the build tag real. It needs PulseAudio, parec, pactl and
// aubioonset (Debian: pulseaudio, pulseaudio-utils, aubio-tools), and for
// [StartPipeWire] pipewire, wireplumber, pipewire-pulse and dbus-daemon, and for
// [Server.ALSA] libasound2-plugins. A test fails where they are missing.
//
// # When was it heard
//
// The server plays into a null sink, whose clock is the system's, and a
// recorder reads the sink's monitor. The sink takes sound a piece of some 5 ms
// at a time, at the moment when the piece's first sample is due, and the
// recorder gets it at once. So each piece tells when the recording began; the
// answer used is one that is earlier than most, because a busy machine makes
// pieces late, but not the very first, because a sink that takes a piece back
// may make one early. All samples follow by counting. That is good to about a
// millisecond (a few with PipeWire, whose recorder gets its pieces later), and
// within one recording the counting is exact, so it shows any gap or drift.
//
// What was playing when a stream begins is heard to its end, so the first
// piece of a stream may be missing from a recording.
package outtest
