package archive

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"stepcaller/narrator"
)

// MostFound is to how many jobs those that words were found in are counted.
const MostFound = 10_000

// Jobs lists finished jobs, the newest first, and tells how many there are of which these are a part. Of those that words are found in more
// than [MostFound] are not counted: the total is MostFound+1 then, unless all are listed. Jobs that began at the same moment stand in any order.
func (a *Archive) Jobs(ctx context.Context, q Query) ([]Row, int, error) {
	found, err := a.found(ctx, q)
	if err != nil {
		return nil, 0, err
	}
	total, err := a.count(ctx, q, found)
	if err != nil {
		return nil, 0, err
	}
	limit, offset, order := q.Limit, max(0, q.Offset), "DESC"
	if limit <= 0 {
		limit = -1
	}
	if q.Text == "" && offset > total/2 { // then it is nearer from the other end
		left := total - offset
		if limit < 0 || limit > left {
			limit = max(0, left)
		}
		offset, order = max(0, left-limit), "ASC"
	}
	rows := []Row{}
	var backs []string
	err = a.each(ctx, func(r *sql.Rows) error {
		row, _, comebacks, err := scan(r)
		if rows = append(rows, row); comebacks {
			backs = append(backs, row.Job)
		}
		return err
	}, `SELECT `+listed+` FROM (SELECT `+found.id+` AS id`+found.from+found.where()+` ORDER BY `+found.id+` `+order+` LIMIT ? OFFSET ?) AS found
		CROSS JOIN job ON job.id = found.id JOIN edition ON edition.id = job.edition ORDER BY job.id DESC`, append(found.args, limit, offset)...)
	if err == nil && len(backs) > 0 {
		err = a.comebacks(ctx, rows, backs)
	}
	if q.Text != "" && q.Limit <= 0 {
		total = max(0, q.Offset) + len(rows)
	}
	return rows, total, err
}

// count tells how many jobs a query finds, in words up to MostFound+1.
func (a *Archive) count(ctx context.Context, q Query, found found) (total int, err error) {
	query := `SELECT count(*)` + found.from + found.where()
	switch {
	case q == Query{Offset: q.Offset, Limit: q.Limit}:
		query = `SELECT coalesce(sum(jobs), 0) FROM tally`
	case q.Text != "":
		query = fmt.Sprintf(`SELECT count(*) FROM (SELECT 1%s%s LIMIT %d)`, found.from, found.where(), MostFound+1)
	}
	return total, a.broken(a.db.QueryRowContext(ctx, query, found.args...).Scan(&total))
}

// found says where the jobs of a query are found, so that an index has all that it asks.
type found struct {
	id         string // column of the job's number
	from       string
	conditions []string
	args       []any
}

func (f *found) only(condition string, arg any) {
	f.conditions, f.args = append(f.conditions, condition), append(f.args, arg)
}

// where are the conditions, as SQL.
func (f *found) where() string {
	if len(f.conditions) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(f.conditions, " AND ")
}

// fewJobs is how many jobs are read one by one for words, sooner than all those in which the words' letters occur.
const fewJobs = 20_000

// found plans a query.
func (a *Archive) found(ctx context.Context, q Query) (found, error) {
	var match, words []string // what the index has, and what is to be read
	for _, word := range strings.Fields(strings.ToLower(q.Text)) {
		letters, err := a.lettersOf(ctx, word)
		if err != nil {
			return found{}, err
		}
		if letters != "" {
			match = append(match, letters)
		}
		words = append(words, word)
	}
	if len(words) > 0 && (q.Technician != "" || q.filtered()) {
		plain := q
		plain.Text = ""
		n, err := a.count(ctx, plain, plain.plan(nil, nil))
		if err != nil {
			return found{}, err
		}
		if n <= fewJobs {
			match = nil
		}
	}
	return q.plan(match, words), nil
}

func (q Query) filtered() bool { return q.Procedure != "" || q.Kind != "" || q.Bay != "" }

// plan says where jobs are found whose text has letters that match, and words.
func (q Query) plan(match, words []string) found {
	f := found{}
	join := func(table, id string) {
		if f.from == "" {
			f.from, f.id = " FROM "+table, id
			return
		}
		f.from += " CROSS JOIN " + table
		f.conditions = append(f.conditions, id+" = "+f.id)
	}
	if len(match) > 0 {
		join("letters", "letters.rowid")
		f.only("letters MATCH ?", strings.Join(match, " AND "))
	}
	switch {
	case q.Technician != "":
		join("crew AS of", "of.id")
		f.only("of.name = ?", q.Technician)
	case q.filtered():
		join("job AS of", "of.id")
	}
	if len(words) > 0 {
		join("said", "said.id")
	}
	if f.from == "" {
		join("job AS of INDEXED BY job_in_order", "of.id")
	}
	for _, filter := range [][2]string{{"of.procedure = ?", q.Procedure}, {"of.kind = ?", q.Kind}, {"of.bay = ?", q.Bay}} {
		if filter[1] != "" {
			f.only(filter[0], filter[1])
		}
	}
	if !q.From.IsZero() {
		f.only(f.id+" >= ?", int64(narrator.MomentOf(q.From))*numbered)
	}
	if !q.To.IsZero() {
		f.only(f.id+" < ?", int64(narrator.MomentOf(q.To))*numbered)
	}
	for _, word := range words {
		f.only("instr(said.text, ?) > 0", word)
	}
	return f
}

// mostLetters is how many ways to go on from two letters the index is asked for.
const mostLetters = 100

// lettersOf says to the index what a job must have in which a word occurs: all three letters in a row of the word; of two letters, those that
// are followed by any third that occurs; "" where it is better not asked. The letters may stand in another order.
func (a *Archive) lettersOf(ctx context.Context, word string) (string, error) {
	quoted := func(letters string) string { return `"` + strings.ReplaceAll(letters, `"`, `""`) + `"` }
	letters := []rune(word)
	var all []string
	for i := 0; i+3 <= len(letters); i++ {
		all = append(all, quoted(string(letters[i:i+3])))
	}
	if len(letters) != 2 {
		return strings.Join(all, " AND "), nil
	}
	err := a.each(ctx, func(r *sql.Rows) error {
		var third string
		err := r.Scan(&third)
		all = append(all, quoted(third))
		return err
	}, `SELECT term FROM letter WHERE term >= ?1 AND term <= ?1 || char(1114111) LIMIT ?2`, word, mostLetters+1)
	switch {
	case len(all) > mostLetters:
		return "", err
	case len(all) == 0:
		return quoted(word + "\n"), err // which does not occur
	}
	return "(" + strings.Join(all, " OR ") + ")", err
}
