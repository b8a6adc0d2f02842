package patient

import (
	"context"
	"fmt"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
)

// symptomPatience is how long the question what ended a session waits.
const symptomPatience = 30 * time.Second

// strayKeys is how long keys after a session are taken for keys of the session:
// they must not answer a question.
const strayKeys = time.Second

// Close tells a patient what was done in a session that is over and what to do
// now, asks what is to be known of it, and closes its record. It returns how the
// session ended with that.
func (p *Talk) Close(ctx context.Context, b Briefing, over live.Ended, entry *diary.Session) sessions.Outcome {
	words := live.Summary(b.Timeline, over.Result)
	switch advice := screen.ClosingAdvice(over.Outcome, over.Answer); {
	case over.Advised:
	case unwell(over.Answer): // what to do comes first
		words = advice + "\n" + words
	default:
		words += " " + advice
	}
	for line := range strings.SplitSeq(words, "\n") {
		p.say(line)
	}
	if over.Record == nil {
		return over.Outcome
	}
	outcome, after := p.after(ctx, over.Record, over.Result, entry.Before, b.Neck())
	if lost := over.Record.Close(); lost != nil {
		fmt.Fprintf(p.Errs, "glidepace: %v\nPlease write this down:\n%s", p.WithCure(lost), lost.Session)
	} else {
		p.farewell(b, entry.Started, outcome, entry.Before.Whole() && after.Whole())
	}
	return outcome
}

// after asks what is to be known of a session that is over, and returns how it
// ended with that, and the ratings. Each answer is in the diary before the next
// question.
func (p *Talk) after(ctx context.Context, b *live.Record, r pacer.Result, before sessions.Ratings, neck bool) (outcome sessions.Outcome, after sessions.Ratings) {
	unsaid := r.Outcome == sessions.Symptoms && r.Answer.Symptom() == sessions.NotSaid && console.IsTerminal(p.In)
	left := r.Outcome == sessions.EndedEarly && neck && console.IsTerminal(p.In)
	if !unsaid && !left && (!p.asks() || unwell(r.Answer)) || ctx.Err() != nil {
		return r.Outcome, after
	}
	console.DropKeys(ctx, p.In, strayKeys)
	fmt.Fprintln(p.Out)
	outcome = r.Outcome
	answer := r.Answer
	switch {
	case unsaid:
		outcome, answer = p.askSymptom(ctx, b, neck)
	case left:
		outcome, answer = p.askHead(ctx, b)
	}
	if p.asks() && ctx.Err() == nil && !unwell(answer) {
		after = p.rateAfter(ctx, b, before)
	}
	return outcome, after
}

// unwell reports whether somebody is to sit down, and not to be asked for
// ratings of something else.
func unwell(a pacer.Answer) bool { return a == pacer.Breathing || a == pacer.WarningSign }

// rateAfter asks for the ratings again, and times how long what rose takes to be
// back where it was.
func (p *Talk) rateAfter(ctx context.Context, b *live.Record, before sessions.Ratings) sessions.Ratings {
	after, err := p.rate(ctx)
	b.Rated(after)
	b.Flush()
	if err != nil || !rose(before.Tingling, after.Tingling) && !rose(before.Pain, after.Pain) {
		return after
	}
	if much(before.Tingling, after.Tingling) || much(before.Pain, after.Pain) {
		p.say("That is much more than before. Stop for today, and tell your clinician.")
	}
	limit := b.SettleWithin
	p.say(fmt.Sprintf("Let the arm hang. It should be back to where it was within %s.", pacer.Clock(limit.Seconds())))
	// Not Enter: pressed once too often it would say that it settled at once.
	key, err := console.Choose(ctx, p.In, p.Out, "Back to where it was?  y: yes, now.  n: no.  q: do not time it. ", "ynq", 0)
	switch {
	case err != nil:
	case key == 'y':
		took := b.SinceEnd()
		b.Settled(true, took)
		fmt.Fprintf(p.Out, "Back after %s.\n", pacer.Clock(took.Seconds()))
		if took > limit {
			fmt.Fprintln(p.Out, "That took long. Tell your clinician.")
		}
	case key == 'n':
		b.Settled(false, b.SinceEnd())
		fmt.Fprintln(p.Out, "Tell your clinician before the next session.")
	}
	return after
}

// sayings are the answers to what ended a session, each with what it comes to.
// None has a key that says something else in a session, and Enter says nothing.
var sayings = map[rune]struct {
	symptom sessions.Symptom
	answer  pacer.Answer // whose last words follow
}{
	't': {symptom: sessions.Tingling},
	'p': {sessions.Pain, pacer.Pain},
	'b': {sessions.Breathing, pacer.Breathing},
	'd': {sessions.WarningSign, pacer.WarningSign},
}

// askSymptom asks what it was that stopped and ended a session, once, and
// returns how it ended with that: without an answer as before.
func (p *Talk) askSymptom(ctx context.Context, b *live.Record, neck bool) (sessions.Outcome, pacer.Answer) {
	question, keys := "What was it?\nt: tingling or numbness.  p: pain.\nb: light-headed, short of breath or tingling around the mouth.\n", "tpbx"
	if neck {
		question, keys = question+"d: dizzy or faint, trouble with sight, speech or swallowing.\n", keys+"d"
	}
	key, err := console.Choose(ctx, p.In, p.Out, question+"x: nothing of these. ", keys, symptomPatience)
	if err != nil {
		return sessions.Symptoms, pacer.Left
	}
	b.Said(sayings[key].symptom)
	b.Flush()
	switch key {
	case 'x':
		return sessions.EndedEarly, pacer.NoStop
	case 't': // for which the last words were
		return sessions.Symptoms, pacer.Left
	}
	console.NewPrinter(p.Out).Wrap("", screen.ClosingAdvice(sessions.Symptoms, sayings[key].answer))
	return sessions.Symptoms, sayings[key].answer
}

// askHead asks whether it was the head that ended a session with a neck glide
// early, and returns how it ended with that.
func (p *Talk) askHead(ctx context.Context, b *live.Record) (sessions.Outcome, pacer.Answer) {
	key, err := console.Choose(ctx, p.In, p.Out, "Was it the head?\nd: dizzy or faint, trouble with sight, speech or swallowing.\nx: no. ", "dx", symptomPatience)
	if err != nil || key != 'd' {
		return sessions.EndedEarly, pacer.NoStop
	}
	b.Stopped()
	b.Said(sessions.WarningSign)
	b.Flush()
	console.NewPrinter(p.Out).Wrap("", screen.ClosingAdvice(sessions.Symptoms, pacer.WarningSign))
	return sessions.Symptoms, pacer.WarningSign
}

// farewell says that a session is kept, what today still holds and, where there
// is more to work up to, what ratings that were skipped come to.
func (p *Talk) farewell(b Briefing, began time.Time, outcome sessions.Outcome, rated bool) {
	now, words := time.Now(), "It is in the diary."
	past, err := history.Read(diary.Options{}, p.Diary, b.Session(), sessions.DateOf(now))
	if err == nil && outcome != sessions.Symptoms && !past.Day.IsZero() {
		words += " " + past.Left(b.Session(), began, now)
	}
	if outcome == sessions.Completed && !rated && b.less {
		words += " " + history.Unrated
	}
	console.NewPrinter(p.Out).Wrap("", words)
}
