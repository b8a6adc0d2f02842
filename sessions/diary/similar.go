//go:build !js

package diary

import (
	"cmp"
	"slices"
	"strings"

	"github.com/agext/levenshtein"
)

// SimilarCodes returns the patient codes of sessions and loans that may be meant by one
// that is not there, the most similar first: at most two characters are wrong, and fewer
// than half of them.
func (d *Diary) SimilarCodes(given string) ([]string, error) {
	type similar struct {
		code  string
		wrong int
	}
	var list []similar
	given = strings.ToLower(given)
	err := each(d.db, func(r *row) {
		code := r.text("patient", maxText)
		wrong := levenshtein.Distance(given, strings.ToLower(code), nil)
		if wrong <= 2 && 2*wrong < len(code) {
			list = append(list, similar{code, wrong})
		}
	}, `SELECT patient FROM sessions WHERE patient <> '' UNION SELECT patient FROM loans ORDER BY 1`)
	slices.SortStableFunc(list, func(a, b similar) int { return cmp.Compare(a.wrong, b.wrong) })
	const most = 3
	var codes []string
	for _, s := range list[:min(most, len(list))] {
		codes = append(codes, s.code)
	}
	return codes, d.explain(err)
}
