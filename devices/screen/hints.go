package screen

import "glidepace/devices/screen/scene"

// hint is what the full screen says about a key: long, short in a narrow window,
// brief in a low one.
type hint struct {
	key, short, long, brief string
	inSet                   bool // only during a set
	neck                    bool // only where the neck is concerned
	later                   bool // not while only the keys that end the session are heard
	optional                bool // left out first where there is no room
}

var (
	stopKey   = hint{key: "Enter", short: "stop", long: "stop", later: true}
	dizzyKey  = hint{key: "d", short: "dizzy", long: "dizzy or another warning sign", neck: true}
	enoughKey = hint{key: "n", short: "enough", long: "enough for this set", inSet: true, later: true, optional: true}
	endKey    = hint{key: "q", short: "end", long: "end the session"}

	whileRunning = []hint{stopKey, dizzyKey, {key: "space", short: "pause", long: "pause", later: true}, enoughKey, endKey}

	warningKey = hint{key: "d", short: "dizzy", long: "dizzy, unsteady, faint; sight, speech, swallowing changed; a numb face",
		brief: "dizzy or another warning sign", neck: true}
	painKey   = hint{key: "p", short: "pain", long: "pain, end for today"}
	breathKey = hint{key: "b", short: "breath", long: scene.BreathSymptoms}
	leaveKey  = hint{key: "q", short: "end", long: "end"}
)

// keyHints are what the keys mean in each status, the most important one first.
var keyHints = map[scene.Status][]hint{
	scene.Waiting: whileRunning,
	scene.Running: whileRunning,
	scene.Paused:  {stopKey, dizzyKey, {key: "space", short: "go on", long: "go on", later: true}, enoughKey, endKey},
	scene.Stopped: {
		{key: "Enter", short: "settled", long: "it has settled, go on gentler", later: true},
		{key: "u", short: "only a pause", long: "it was only a pause", later: true},
		warningKey, painKey, breathKey, leaveKey,
	},
	scene.Asked: {
		{key: "y", short: "yes, go on", long: "yes, go on gentler"},
		{key: "n", short: "no, end", long: "no, end for today"},
		warningKey, painKey, breathKey, leaveKey,
	},
}
