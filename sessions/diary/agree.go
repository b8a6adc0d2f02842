//go:build !js

package diary

import "strings"

// The columns of a session that are set when it begins, and those that change
// with its events.
const (
	lasting = `id, title, patient, prescription, started, offset_min, date,
		planned_sets, planned_reps, planned_breaths, rate_start, rate_end, "match", sound, source, extra, diary, place`
	changing = "ended, length_s, done_sets, done_reps, done_breaths, outcome, reason"
)

// inBoth is a condition on the other's sessions s: they are in the diary.
const inBoth = "EXISTS (SELECT 1 FROM main.sessions WHERE id = s.id)"

// differ is a condition: two rows, one and two, differ in one of the columns.
func differ(columns string) string {
	var list []string
	for column := range strings.SplitSeq(columns, ",") {
		column = strings.TrimSpace(column)
		list = append(list, "one."+column+" IS NOT two."+column)
	}
	return "(" + strings.Join(list, " OR ") + ")"
}

// ahead selects the sessions of both diaries for which one has events that the
// other lacks. What is said after the session does not count: it may be said to
// either.
func ahead(one, other string) string {
	return strings.NewReplacer("ONE", one, "OTHER", other).Replace(`(SELECT session FROM other.sessions AS s
		CROSS JOIN ONE.events AS e ON e.session = s.id AND ` + inBoth + `
		WHERE kind NOT IN ('` + string(Noted+"', '"+Morning+"', '"+WrongDay) + `')
		AND NOT EXISTS (SELECT 1 FROM OTHER.events WHERE session = e.session AND seq = e.seq))`)
}

// conflicts selects the sessions of both diaries that do not agree: events with
// the same number differ, or how the session began; both have events that the
// other lacks, or neither has, and yet the sessions differ. And it selects those of
// which there are versions. All queries of a merge
// look up in the diary what the other has, so that they take as long as the other
// is large, however large the diary is.
var conflicts = `WITH mine AS MATERIALIZED ` + ahead("main", "other") + `, theirs AS MATERIALIZED ` + ahead("other", "main") + `
	SELECT one.session FROM other.sessions AS s CROSS JOIN other.events AS one ON one.session = s.id AND ` + inBoth + `
		CROSS JOIN main.events AS two ON two.session = one.session AND two.seq = one.seq WHERE ` + differ(eventDetails) + `
	UNION SELECT id FROM other.sessions AS one CROSS JOIN main.sessions AS two USING (id) WHERE ` + differ(lasting) + `
	UNION SELECT session FROM mine WHERE session IN theirs
	UNION SELECT id FROM other.sessions AS one CROSS JOIN main.sessions AS two USING (id) WHERE ` + differ(changing) + `
		AND id NOT IN mine AND id NOT IN theirs
	UNION SELECT id FROM other.kept_sessions UNION SELECT session FROM other.kept_events
	UNION SELECT s.id FROM other.sessions AS s CROSS JOIN main.kept_sessions AS k ON k.id = s.id
	UNION SELECT s.id FROM other.sessions AS s CROSS JOIN main.kept_events AS k ON k.session = s.id
	ORDER BY 1`

// different returns the ids of the sessions that the two diaries tell differently, or of
// which one of them keeps versions.
func (m *merge) different(q querier) ([]string, error) {
	var ids []string
	err := each(q, func(r *row) {
		id, _ := r.next().(string)
		ids = append(ids, id)
	}, conflicts)
	return ids, m.into.explain(err)
}

// joined returns what this diary knows of a session, and what both do.
func (m *merge) joined(q querier, id string) (mine, both account, err error) {
	mine, err = accountOf(q, "main", id)
	if err != nil {
		return mine, mine, err
	}
	other, err := accountOf(q, "other", id)
	return mine, mine.join(other), err
}

const eventDetails = "at_s, kind, exercise, side, set_no, rep, done_sets, done_reps, done_breaths, detail"

// missingRows counts what of the other diary is not in this one, except of the sessions in
// a first list. Those in a second were added; how the others went on is compared by
// conflicts.
var missingRows = `WITH differing AS MATERIALIZED (SELECT value FROM json_each(?)), added AS MATERIALIZED (SELECT value FROM json_each(?))
	SELECT (SELECT count(*) FROM other.sessions AS one WHERE id NOT IN differing AND NOT EXISTS
		(SELECT 1 FROM main.sessions AS two WHERE two.id = one.id AND NOT ` + differ(lasting) + ` AND (one.id NOT IN added OR NOT ` + differ(changing) + `))) +
	(SELECT count(*) FROM other.events AS one WHERE session NOT IN differing AND NOT EXISTS
		(SELECT 1 FROM main.events AS two WHERE two.session = one.session AND two.seq = one.seq AND NOT ` + differ(eventDetails) + `)) + ` + missingLoans

// unknown is a condition on the other's events e: they are not in the diary.
const unknown = "NOT EXISTS (SELECT 1 FROM main.events WHERE session = e.session AND seq = e.seq)"
