package screen

// hint is what the full screen says of a key, short where the room is narrow,
// and in a few words less, brief, where it is low.
type hint struct {
	key, short, long, brief string
	inSet                   bool // means something in a set alone
	neck                    bool // means something where the neck is concerned
	later                   bool // means nothing while keys are deaf
	spared                  bool // left out where there is no room
}

var (
	stopKey   = hint{key: "Enter", short: "stop", long: "stop", later: true}
	dizzyKey  = hint{key: "d", short: "dizzy", long: "dizzy or another warning sign", neck: true}
	enoughKey = hint{key: "n", short: "enough", long: "enough for this set", inSet: true, later: true, spared: true}
	endKey    = hint{key: "q", short: "end", long: "end the session"}

	whileRunning = []hint{stopKey, dizzyKey, {key: "space", short: "pause", long: "pause", later: true}, enoughKey, endKey}

	warningKey = hint{key: "d", short: "dizzy", long: "dizzy, unsteady, faint; sight, speech, swallowing changed; a numb face",
		brief: "dizzy or another warning sign", neck: true}
	painKey   = hint{key: "p", short: "pain", long: "pain, end for today"}
	breathKey = hint{key: "b", short: "breath", long: breathSymptoms}
	leaveKey  = hint{key: "q", short: "end", long: "end"}
)

// keyHints are the hints of each status, the most important key first.
var keyHints = map[status][]hint{
	waiting: whileRunning,
	running: whileRunning,
	paused:  {stopKey, dizzyKey, {key: "space", short: "go on", long: "go on", later: true}, enoughKey, endKey},
	stopped: {
		{key: "Enter", short: "settled", long: "it has settled, go on gentler", later: true},
		{key: "u", short: "only a pause", long: "it was only a pause", later: true},
		warningKey, painKey, breathKey, leaveKey,
	},
	asked: {
		{key: "y", short: "yes, go on", long: "yes, go on gentler"},
		{key: "n", short: "no, end", long: "no, end for today"},
		warningKey, painKey, breathKey, leaveKey,
	},
}
