package diary

// Limits of what a row may hold. Every version has stayed well inside them. Beyond
// them a file was damaged or changed by hand.
const (
	maxSeconds = 366 * 24 * 3600 // of a session, and from its start to an event
	maxCount   = 100_000         // sets, repetitions, breaths
	maxRate    = 100             // breaths a minute
	maxOffset  = 24*60 - 1       // minutes from UTC, that RFC 3339 can write
	maxPlace   = 1e12
	maxSeq     = 1e15 // events said later are numbered by the milliseconds since 1970
	maxText    = 1000 // characters
	maxWord    = 40
	maxDetail  = 1 << 17
)

// largestValue is the most bytes of any value that SQLite handles. The ids of all the
// sessions that one merge may bring, in JSON, are less.
const largestValue = 32 << 20
