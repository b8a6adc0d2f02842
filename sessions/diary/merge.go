//go:build !js

package diary

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/gofrs/flock"
	sqlite3 "modernc.org/sqlite/lib"

	"glidepace/sessions/safefile"
)

// Merged has the sessions of a diary that was merged into another, as they are
// there now, without events.
type Merged struct {
	Added    []Session // were not there before
	Extended []Session // were there, with fewer events
	There    []Session // were there, with all their events
}

// ConflictError says that two diaries have different accounts of the same
// session.
type ConflictError struct {
	ID         string
	From, Into string // the diaries
}

func (e *ConflictError) Error() string {
	return fmt.Sprintf("session %s is in %s and in %s with different entries: nothing was merged; keep both files",
		e.ID, e.From, e.Into)
}

// RowError says what is wrong with a row of a diary that was to be merged: it was
// damaged, or changed by hand.
type RowError struct {
	Path, Session string // no session: it is a loan
	Line          int    // of a file with a session a line, from 1; else 0
	Wrong         string // with the number of the event and the column: "event 3, rep: -1; allowed is 0 to 100000"
}

func (e *RowError) Error() string {
	row := "a loan"
	switch {
	case e.Line > 0:
		row = fmt.Sprintf("line %d", e.Line)
	case e.Session != "":
		row = fmt.Sprintf("session %.40q", e.Session)
	}
	return fmt.Sprintf("diary %s: %s: %s: nothing was merged", e.Path, row, e.Wrong)
}

// Beside the diary that is merged into, with these endings:
const (
	mergeFolder = ".merge"      // a copy of the other
	mergeLock   = ".merge.lock" // held meanwhile
)

// Merge brings all sessions of the diary at path, with their events, and all loans
// into this one, in one transaction. What is there already stays as it is, so the same
// diary may be merged again, after an error or after more sessions.
//
// New rows are checked before anything is written: the error for a value that no
// version of the program writes is a [*RowError].
//
// If a session is in both, one copy must have all that the other has; notes may
// have been added to either. Otherwise the error is a [*ConflictError]; for both to be
// kept see [Diary.MergeVersions]. If there
// is no diary at path it is a [*NoDiaryError].
//
// The diary at path is only read, so it may be on a card that cannot be written.
// A copy is made beside this one and removed afterwards. The copy is put in
// order: a commit that was cut off is undone, an old format is brought up to
// date, sessions that were cut off are closed as [sessions.Interrupted]. If a
// session still runs, Merge returns an error.
//
// A nil error means more than a commit: every session and event of the copy was
// found again over a new connection, and the diary at path was read once more
// and had not changed. So it may then be erased.
func (d *Diary) Merge(path string) (Merged, error) {
	m := &merge{into: d, path: path}
	err := m.run()
	return m.merged, err
}

// Joined counts the sessions of a diary that was merged with [Diary.MergeVersions].
type Joined struct {
	Added    int      // were not there before
	Extended int      // were there, with less
	There    int      // were there, with all that the other has
	Versions []string // ids of those of which the diary keeps other versions
}

// MergeVersions is [Diary.Merge], but if the two diaries tell a session differently both
// versions are kept. One of them is read; [Diary.Show] has the others. The same diaries,
// merged in any order and any number of times, become the same.
//
// At path there may also be what a web page gave: text with a session a line, in JSON.
func (d *Diary) MergeVersions(path string) (j Joined, err error) {
	m := &merge{into: d, path: path, keep: true}
	if err := m.run(); err != nil {
		return Joined{}, err
	}
	for id, list := range m.ids {
		switch list {
		case &m.merged.Added:
			j.Added++
		case &m.merged.Extended:
			j.Extended++
		default:
			j.There++
		}
		if m.differ[id].unread() > 0 {
			j.Versions = append(j.Versions, id)
		}
	}
	return j, nil
}

func (m *merge) run() error {
	defer m.leave()
	for _, step := range m.steps() {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// merge is a merge in progress.
type merge struct {
	into   *Diary
	path   string         // of the other diary
	lines  bool           // it is text
	lineOf map[string]int // of its sessions
	lock   *flock.Flock
	sums   [len(copied)][]byte // of what was copied; nil if there was no such file
	db     *sql.DB             // the diary, with the copy attached as "other"
	tx     *sql.Tx
	ids    map[string]*[]Session // of the other's sessions: where in merged they belong
	keep   bool                  // versions that differ; else they are refused
	differ map[string]account    // sessions that the diaries tell differently: what both know
	merged Merged
}

// steps returns what is done in order. Nothing is lost if the power goes between
// two of them.
func (m *merge) steps() []func() error {
	return []func() error{m.begin, m.copy, m.putInOrder, m.attach, m.compare, m.check,
		m.extend, m.add, m.commit, m.verify, m.lookAgain, m.report}
}

// leave undoes what was not committed and removes the copy.
func (m *merge) leave() {
	if m.tx != nil {
		m.tx.Rollback()
	}
	if m.db != nil {
		m.db.Close()
	}
	if m.lock != nil {
		os.RemoveAll(m.folder())
		release(m.lock)
	}
}

func (m *merge) folder() string { return m.into.path + mergeFolder }
func (m *merge) copyAt() string { return filepath.Join(m.folder(), "diary.db") }

func (m *merge) begin() error {
	path, err := filepath.Abs(m.path)
	if err != nil {
		return fmt.Errorf("diary %s: %w", m.path, err)
	}
	m.path = path
	look := lookAt
	if m.lines = m.keep && isText(path); m.lines {
		look = os.Stat
	}
	info, err := look(path)
	if err != nil {
		return err
	}
	if m.path, err = filepath.EvalSymlinks(path); err != nil {
		return &PlaceError{path, "it cannot be looked at", err}
	}
	if mine, err := os.Stat(m.into.path); err == nil && os.SameFile(mine, info) {
		return fmt.Errorf("diary %s cannot be merged into itself; give another one", path)
	}
	lock := m.into.path + mergeLock
	if m.lock, err = tryLock(lock, os.O_CREATE|os.O_RDWR); err != nil {
		return fmt.Errorf("diary lock %s cannot be taken: %w; see to the rights and the space of that folder", lock, err)
	}
	if m.lock == nil {
		return fmt.Errorf("diary %s: another program merges into it: wait until it is done", m.into.name)
	}
	return nothingRuns(m.path)
}

// copied has the endings of the files that make up a diary.
var copied = [...]string{"", "-journal", "-wal"}

// LargestMerged is the most bytes that a file of a diary may have to be merged. The
// diary of a patient's year has less than a tenth of it.
const LargestMerged = 512 << 20

// readOther copies one of the other diary's files to a writer, and returns a checksum of
// it; nil if there is no such file.
func (m *merge) readOther(ending string, to io.Writer) ([]byte, error) {
	most := int64(LargestMerged)
	if m.lines {
		most = largestText
	}
	f, err := safefile.Open(m.path + ending)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	sum := sha256.New()
	if err == nil {
		defer f.Close()
		var n int64
		if n, err = io.Copy(io.MultiWriter(sum, to), io.LimitReader(f, most+1)); n > most {
			err = &safefile.TooLargeError{Name: m.path + ending, Most: most}
		}
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok && e.Op == "write" {
		return nil, m.noCopy(err)
	}
	if err != nil {
		return nil, fmt.Errorf("diary %s cannot be read: %w", m.path, err)
	}
	return sum.Sum(nil), nil
}

func (m *merge) noCopy(err error) error {
	return fmt.Errorf("diary %s: no copy of %s can be made beside it: %w; see to the rights and the space of that folder", m.into.name, m.path, err)
}

// copy copies the other diary into a folder beside this one.
func (m *merge) copy() error {
	err := os.RemoveAll(m.folder()) // of a merge that was cut off
	if err == nil {
		err = os.Mkdir(m.folder(), 0o700)
	}
	if err != nil {
		return fmt.Errorf("diary %s: %w", m.into.name, err)
	}
	if m.lines {
		var text bytes.Buffer
		if m.sums[0], err = m.readOther("", &text); err != nil {
			return err
		}
		return m.copyLines(text.Bytes())
	}
	for i, ending := range copied {
		if err := m.copyFile(i, ending); err != nil {
			return err
		}
	}
	return nil
}

func (m *merge) copyFile(i int, ending string) error {
	f, err := os.OpenFile(m.copyAt()+ending, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return m.noCopy(err)
	}
	m.sums[i], err = m.readOther(ending, f)
	if err2 := f.Close(); err == nil && err2 != nil {
		err = m.noCopy(err2)
	}
	if err == nil && m.sums[i] == nil {
		err = os.Remove(f.Name())
	}
	return err
}

// putInOrder opens the copy as any diary is opened: as one on a card, since a
// diary with a write-ahead log cannot be attached for reading alone.
func (m *merge) putInOrder() error {
	other, err := Options{Card: true, passing: true}.open(m.copyAt(), m.path, false)
	if err != nil {
		return err
	}
	return other.Close()
}

func (m *merge) attach() (err error) {
	if m.db, err = m.into.connect(); err != nil {
		return err
	}
	if err := m.into.useJournal(m.db); err != nil {
		return m.into.explain(err)
	}
	// Sessions of any id come anywhere in the file: with a small cache the same pages would
	// be written many times. What a statement changed, in case it fails, would go into files in
	// the system's folder for them; it is no larger than this diary.
	_, err = m.db.Exec("PRAGMA cache_size = -32000; PRAGMA temp_store = MEMORY; PRAGMA wal_autocheckpoint = 8000; ATTACH ? AS other", fileURL(m.copyAt(), url.Values{"mode": {"ro"}}))
	return m.into.explain(err)
}

// explain is [Diary.explain] for reading both diaries. This one has no value that is too large.
func (m *merge) explain(err error) error {
	if code(err) == sqlite3.SQLITE_TOOBIG {
		return (&Diary{name: m.path}).explain(err)
	}
	return m.into.explain(err)
}

// compare begins the transaction and finds out what there is to do.
func (m *merge) compare() (err error) {
	if m.tx, err = m.db.Begin(); err != nil {
		return m.explain(err)
	}
	m.ids = make(map[string]*[]Session)
	err = each(m.tx, func(r *row) {
		id, _ := r.next().(string)
		switch there, more := r.flag("there"), r.flag("more"); {
		case !there:
			m.ids[id] = &m.merged.Added
		case more:
			m.ids[id] = &m.merged.Extended
		default:
			m.ids[id] = &m.merged.There
		}
	}, "SELECT id, "+inBoth+", "+inBoth+" AND EXISTS (SELECT 1 FROM other.events AS e WHERE session = s.id AND "+unknown+") FROM other.sessions AS s")
	if err != nil {
		return m.explain(err)
	}
	return m.compareVersions()
}

// compareVersions finds out what becomes of the sessions that the diaries tell
// differently.
func (m *merge) compareVersions() error {
	ids, err := m.different(m.tx)
	m.differ = make(map[string]account)
	for _, id := range ids {
		var mine, both account
		if mine, both, err = m.joined(m.tx, id); err != nil {
			break
		}
		if !m.keep && both.unread() > mine.unread() {
			return &ConflictError{ID: id, From: m.path, Into: m.into.name}
		}
		switch {
		case len(mine.versions) == 0:
			m.ids[id] = &m.merged.Added
		case both.same(mine):
			m.ids[id] = &m.merged.There
		default:
			m.ids[id] = &m.merged.Extended
		}
		m.differ[id] = both
	}
	return m.explain(err)
}

// differing has the ids of the sessions that the diaries tell differently, in JSON.
func (m *merge) differing() string { return encode(slices.AppendSeq([]string{}, maps.Keys(m.differ))) }

const notDiffering = " NOT IN (SELECT value FROM json_each(?))"

// check returns a [*RowError] if something that is new holds a value that no
// version writes. What the diary has already is as bad there.
func (m *merge) check() error {
	var wrong error
	found := func(session string, faults []string) {
		if wrong == nil && len(faults) > 0 {
			session = strings.Clone(session)
			wrong = &RowError{m.path, session, m.lineOf[session], faults[0]}
		}
	}
	w := newSweep(m.tx)
	err := w.each(func(r *row) {
		id, _ := r.values[0].(string)
		s := r.session()
		if m.ids[id] != &m.merged.There {
			found(s.ID, s.Unread)
		}
	}, sessionColumns, "(SELECT "+sessionColumns+" FROM other.sessions UNION ALL SELECT "+sessionColumns+" FROM other.kept_sessions)")
	if err == nil {
		err = w.each(func(r *row) {
			id, e := r.event()
			if m.ids[id] == nil {
				r.fault("session", id, "one of the sessions")
			}
			if !e.readable(w.known) {
				r.fault("detail", e.Detail, "that of a "+string(e.Kind))
			}
			found(id, r.faults)
		}, eventColumns, "(SELECT "+eventColumns+" FROM other.events AS e WHERE "+unknown+" OR NOT session"+notDiffering+
			" UNION ALL SELECT "+eventColumns+" FROM other.kept_events)", m.differing())
	}
	if err == nil {
		err = w.each(func(r *row) {
			r.loan()
			found("", r.faults)
		}, loanColumns, "other.loans")
	}
	return cmp.Or(m.explain(err), wrong)
}

// extend updates the sessions that went on in the other diary.
func (m *merge) extend() error {
	_, err := m.tx.Exec("UPDATE main.sessions AS s SET ("+changing+") = (SELECT "+changing+
		" FROM other.sessions WHERE id = s.id) WHERE id"+notDiffering+" AND id IN "+ahead("other", "main"), m.differing())
	return m.into.explain(err)
}

// add adds what is not there yet.
func (m *merge) add() error {
	_, err := m.tx.Exec("INSERT INTO main.sessions (" + sessionColumns + ") SELECT " + sessionColumns + " FROM other.sessions WHERE true ON CONFLICT DO NOTHING")
	if err == nil {
		_, err = m.tx.Exec("INSERT INTO main.events ("+eventColumns+") SELECT "+eventColumns+" FROM other.events WHERE session"+notDiffering+" ON CONFLICT DO NOTHING",
			m.differing())
	}
	if err == nil {
		_, err = m.tx.Exec(addLoans)
	}
	for id, both := range m.differ {
		if err == nil {
			err = both.write(m.tx, id)
		}
	}
	return m.into.explain(err)
}

func (m *merge) commit() error { return m.into.explain(m.tx.Commit()) }

// verify compares the two again, over a new connection.
func (m *merge) verify() error {
	if err := m.db.Close(); err != nil {
		return m.into.explain(err)
	}
	if err := m.attach(); err != nil {
		return err
	}
	var missing int
	added := []string{}
	for id, list := range m.ids {
		if list == &m.merged.Added {
			added = append(added, id)
		}
	}
	err := m.db.QueryRow(missingRows, m.differing(), encode(added)).Scan(&missing)
	if err != nil {
		return m.into.explain(err)
	}
	var ids []string
	if len(added) < len(m.ids) {
		ids, err = m.different(m.db)
	}
	for _, id := range ids {
		mine, both, err := m.joined(m.db, id)
		if err != nil {
			return m.into.explain(err)
		}
		if _, expected := m.differ[id]; !expected || !mine.same(both) {
			missing++
		}
	}
	if err == nil && missing > 0 {
		err = fmt.Errorf("diary %s: %d entries of %s are not in it after the merge: keep both files and see to the disk", m.into.name, missing, m.path)
	}
	return m.into.explain(err)
}

// lookAgain makes sure that no program changed the other diary meanwhile. The
// second reading usually comes from memory: it does not show that the card
// itself can be read.
func (m *merge) lookAgain() error {
	if err := nothingRuns(m.path); err != nil {
		return err
	}
	for i, ending := range copied {
		if m.lines && i > 0 {
			break
		}
		sum, err := m.readOther(ending, io.Discard)
		if err != nil {
			return err
		}
		if !bytes.Equal(sum, m.sums[i]) {
			return fmt.Errorf("diary %s changed while it was merged: merge it again", m.path)
		}
	}
	return nil
}

func (m *merge) report() error {
	if m.keep {
		return nil
	}
	list, err := m.into.ListIDs(slices.Collect(maps.Keys(m.ids)))
	if err != nil {
		return err
	}
	for _, s := range list {
		if to := m.ids[s.ID]; to != nil {
			*to = append(*to, s)
		}
	}
	return nil
}
