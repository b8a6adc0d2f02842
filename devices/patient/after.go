package patient

import (
	"context"
	"fmt"
	"time"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// symptomPatience is how long to wait for the answer to what ended a session.
const symptomPatience = 30 * time.Second

// Close ends the talk after a session: it says what was done and what to do now,
// asks how it was, and closes the record. It returns the outcome, which the
// answers may have changed. Advised says that the closing advice was told already.
func (p *Talk) Close(ctx context.Context, b Briefing, r pacer.Result, advised bool, record *history.Writer, entry *diary.Session) sessions.Outcome {
	words := Summary(b.Timeline, r)
	switch advice := scene.ClosingAdvice(r.Outcome, r.Answer); {
	case advised:
	case unwell(r.Answer): // what to do comes first
		p.Urge(advice)
	default:
		words += " " + advice
	}
	p.Say(words)
	if record == nil {
		return r.Outcome
	}
	outcome, after := p.after(ctx, record, r, entry.Before, b.Neck())
	if lost := record.Close(); lost != nil {
		p.Lost(lost)
	} else {
		p.farewell(b, entry.Started, outcome, entry.Before.Whole() && after.Whole())
	}
	return outcome
}

// after asks what ended a session, unless that is known, and then for the ratings.
// Each answer is in the diary before the next question is asked.
func (p *Talk) after(ctx context.Context, b *history.Writer, r pacer.Result, before sessions.Ratings, neck bool) (outcome sessions.Outcome, after sessions.Ratings) {
	unsaid := r.Outcome == sessions.Symptoms && r.Answer.Symptom() == sessions.NotSaid && p.There()
	left := r.Outcome == sessions.EndedEarly && neck && p.There()
	if !unsaid && !left && (!p.Rates() || unwell(r.Answer)) || ctx.Err() != nil {
		return r.Outcome, after
	}
	p.Afterwards(ctx)
	outcome = r.Outcome
	answer := r.Answer
	switch {
	case unsaid:
		outcome, answer = p.askSymptom(ctx, b, neck)
	case left:
		outcome, answer = p.askHead(ctx, b)
	}
	if p.Rates() && ctx.Err() == nil && !unwell(answer) {
		after = p.rateAfter(ctx, b, before)
	}
	return outcome, after
}

// Summary says in one line what was done.
func Summary(t *pacer.Timeline, r pacer.Result) string {
	lead := map[sessions.Outcome]string{sessions.Completed: "Done", sessions.EndedEarly: "Ended early", sessions.Symptoms: "Stopped"}[r.Outcome]
	return fmt.Sprintf("%s: %d of %s in %s.",
		lead, r.Done.Repetitions, sessions.Count(t.Repetitions, "repetition"), pacer.Clock(r.Length.Seconds()))
}

// unwell reports whether the patient is to sit down, and not to rate tingling.
func unwell(a pacer.Answer) bool { return a == pacer.Breathing || a == pacer.WarningSign }

// rateAfter asks for the ratings again. If one rose, it times how long that takes
// to settle.
func (p *Talk) rateAfter(ctx context.Context, b *history.Writer, before sessions.Ratings) sessions.Ratings {
	after, err := p.Rate(ctx)
	b.Rated(after)
	b.Flush()
	if err != nil || !rose(before.Tingling, after.Tingling) && !rose(before.Pain, after.Pain) {
		return after
	}
	if much(before.Tingling, after.Tingling) || much(before.Pain, after.Pain) {
		p.Say("That is much more than before. Stop for today, and tell your clinician.")
	}
	limit := b.SettleWithin
	p.Say(fmt.Sprintf("Let the arm hang. It should be back to where it was within %s.", pacer.Clock(limit.Seconds())))
	for {
		// Enter is no answer: one too many would say that it settled at once.
		key, err := p.Choose(ctx, Question{Text: "Back to where it was?", Choices: []Choice{{'y', "yes, now"}, {'n', "not yet"}, {'q', "do not time it"}}})
		took := b.SinceEnd()
		switch {
		case err != nil || key == 'q':
			return after
		case key == 'y':
			b.Settled(true, took)
			p.Say(fmt.Sprintf("Back after %s.", pacer.Clock(took.Seconds())))
			if took > limit {
				p.Say("That took long. Tell your clinician.")
			}
			return after
		}
		b.Settled(false, took) // what is answered later counts instead
		b.Flush()
		if took > limit {
			p.Say("Tell your clinician before the next session.")
			return after
		}
		p.Say(fmt.Sprintf("%s of %s have passed. Answer once it is back.", pacer.Clock(took.Seconds()), pacer.Clock(limit.Seconds())))
	}
}

// reasons are the answers to what ended a session. No key means something else in
// a session, and Enter means nothing.
var reasons = map[rune]struct {
	symptom sessions.Symptom
	answer  pacer.Answer // whose closing advice follows
}{
	't': {symptom: sessions.Tingling},
	'p': {sessions.Pain, pacer.Pain},
	'b': {sessions.Breathing, pacer.Breathing},
	'd': {sessions.WarningSign, pacer.WarningSign},
}

// headSigns are the warning signs of the neck glide in brief.
const headSigns = "dizzy or faint, trouble with sight, speech or swallowing"

// askSymptom asks what it was that stopped a session and ended it. Without an
// answer the outcome stays.
func (p *Talk) askSymptom(ctx context.Context, b *history.Writer, neck bool) (sessions.Outcome, pacer.Answer) {
	q := Question{Text: "What was it?", Patience: symptomPatience, Choices: []Choice{
		{'t', "tingling or numbness"}, {'p', "pain"}, {'b', "light-headed, short of breath or tingling around the mouth"}}}
	if neck {
		q.Choices = append(q.Choices, Choice{'d', headSigns})
	}
	q.Choices = append(q.Choices, Choice{'x', "none of these"})
	key, err := p.Choose(ctx, q)
	if err != nil {
		return sessions.Symptoms, pacer.Left
	}
	b.Said(reasons[key].symptom)
	b.Flush()
	switch key {
	case 'x':
		return sessions.EndedEarly, pacer.NoStop
	case 't': // the closing advice was for that
		return sessions.Symptoms, pacer.Left
	}
	p.Urge(scene.ClosingAdvice(sessions.Symptoms, reasons[key].answer))
	return sessions.Symptoms, reasons[key].answer
}

// askHead asks whether it was a warning sign that ended a session with a neck
// glide early.
func (p *Talk) askHead(ctx context.Context, b *history.Writer) (sessions.Outcome, pacer.Answer) {
	key, err := p.Choose(ctx, Question{Text: "Was it the head?", Patience: symptomPatience, Choices: []Choice{{'d', headSigns}, {'x', "no"}}})
	if err != nil || key != 'd' {
		return sessions.EndedEarly, pacer.NoStop
	}
	b.Stopped()
	b.Said(sessions.WarningSign)
	b.Flush()
	p.Urge(scene.ClosingAdvice(sessions.Symptoms, pacer.WarningSign))
	return sessions.Symptoms, pacer.WarningSign
}

// farewell says that the session is in the diary and what is left to do today. If
// there is more to work up to, it also says what skipped ratings mean for that.
func (p *Talk) farewell(b Briefing, began time.Time, outcome sessions.Outcome, rated bool) {
	now, words := time.Now(), "It is in the diary."
	past, err := history.Read(diary.Options{}, p.Diary, b.Session(), sessions.DateOf(now))
	if hurdles := progress.Gate(b.Session(), past.Entries, past.Clock(now)); err == nil && len(hurdles) > 0 && hurdles[0].Kind == progress.AskClinician {
		words += " " + hurdles[0].Message(now)
	}
	if err == nil && outcome != sessions.Symptoms && !past.Day.IsZero() {
		words += " " + past.Left(b.Session(), began, now)
	}
	if outcome == sessions.Completed && !rated && b.less {
		words += " " + history.Unrated
	}
	p.Say(words)
}
