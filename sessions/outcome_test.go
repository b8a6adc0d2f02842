package sessions_test

import (
	"strings"
	"testing"

	"glidepace/sessions"
)

// Diaries hold these words. With another one, what older diaries tell of stops
// and answers would be passed over.
func TestWordsOfDiaries(t *testing.T) {
	got := strings.Join([]string{
		string(sessions.Completed), string(sessions.EndedEarly), string(sessions.Symptoms), string(sessions.Interrupted),
		string(sessions.NoSymptom), string(sessions.NotSaid), string(sessions.Tingling), string(sessions.Pain), string(sessions.Breathing), string(sessions.WarningSign),
		string(sessions.NoStronger), string(sessions.Stronger), string(sessions.Worse), string(sessions.NotWorse),
	}, "|")
	const want = "completed|ended-early|symptoms|interrupted||not said|tingling|pain|breathing|warning sign|no stronger|stronger|worse|not worse"
	if got != want {
		t.Errorf("the words are\n%s, want\n%s", got, want)
	}
}
