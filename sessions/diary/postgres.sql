-- The sessions of diaries in PostgreSQL, 13 or newer. Once:
--
--   psql -f postgres.sql
--
-- To load sessions, as often as you like:
--
--   glidepace diary export --format jsonl clinic.db > sessions.jsonl
--   psql -c "\copy glidepace.lines from sessions.jsonl with (format csv, quote e'\x01', delimiter e'\x02')"
--   psql -c "CALL glidepace.load()"
--
-- and to see them:
--
--   psql -c "SELECT * FROM glidepace.weeks WHERE course = 'patient DEMO-1'"
--
-- The views count up to today. For another day: SET glidepace.today = '2026-12-01'.
-- They count as the command review does: a day asks for the lower end of the dose that
-- is in force on it. A day with a session that ended for symptoms, or after which they
-- had not settled, and today, ask only for what was done.

CREATE SCHEMA glidepace;

-- Lines of an export on their way into the table. (A quote and a delimiter that JSON
-- never holds keep each line whole.)
CREATE TABLE glidepace.lines (line jsonb NOT NULL);

-- The columns are explained in sessions/README.md, with their units.
CREATE TABLE glidepace.sessions (
	id                  text PRIMARY KEY,
	title               text,
	patient             text,
	prescription        text,
	date                date,
	started             timestamptz,
	ended               timestamptz,
	length_s            float8,
	planned_sets        int NOT NULL,
	planned_repetitions int NOT NULL,
	planned_breaths     int NOT NULL,
	done_sets           int NOT NULL,
	done_repetitions    int NOT NULL,
	done_breaths        int NOT NULL,
	rate_start_per_min  float8,
	rate_end_per_min    float8,
	match               text,
	sound               text,
	outcome             text, -- NULL: it has not ended
	source              text,
	extra               boolean NOT NULL,
	tingling_before     int,
	pain_before         int,
	tingling_after      int,
	pain_after          int,
	settled             boolean,
	settled_after_s     float8,
	stops               int NOT NULL,
	symptom             text,
	notes               text,
	plan                jsonb,
	number              int,
	boot                text,
	since_boot_s        float8,
	felt                text,
	diary               text,
	place               bigint,
	stops_in_set        int NOT NULL,
	ended_by            text,
	not_in_time         boolean NOT NULL,
	cleared             boolean NOT NULL,
	next_morning        text,
	wrong_clock         timestamptz,
	wrong_day           boolean NOT NULL,
	unread              text
);
CREATE INDEX ON glidepace.sessions (patient);

-- How much a copy of a session has: of two copies the one with more stays.
CREATE FUNCTION glidepace.has(s glidepace.sessions) RETURNS int[] IMMUTABLE LANGUAGE sql AS $$
	SELECT ARRAY[(s.outcome IS NOT NULL)::int, s.done_repetitions, s.stops,
		num_nonnulls(s.tingling_before, s.pain_before, s.tingling_after, s.pain_after, s.felt, s.settled, s.next_morning,
			nullif(s.ended_by, 'not said'), nullif(s.wrong_day, false), nullif(s.cleared, false))]
$$;

CREATE PROCEDURE glidepace.load() LANGUAGE sql AS $$
	WITH new AS (
		SELECT DISTINCT ON (s.id) s FROM glidepace.lines, jsonb_populate_record(NULL::glidepace.sessions, line) AS s
		ORDER BY s.id, glidepace.has(s) DESC
	)
	DELETE FROM glidepace.sessions AS old USING new WHERE old.id = (new.s).id AND glidepace.has(old) < glidepace.has(new.s);
	INSERT INTO glidepace.sessions
		SELECT DISTINCT ON (s.id) s.* FROM glidepace.lines, jsonb_populate_record(NULL::glidepace.sessions, line) AS s
		ORDER BY s.id, glidepace.has(s) DESC
	ON CONFLICT DO NOTHING;
	DELETE FROM glidepace.lines;
$$;

CREATE FUNCTION glidepace.today() RETURNS date STABLE LANGUAGE sql AS
	$$ SELECT coalesce(nullif(current_setting('glidepace.today', true), '')::date, current_date) $$;

CREATE FUNCTION glidepace.share(done bigint, total bigint) RETURNS float8 IMMUTABLE STRICT LANGUAGE sql AS
	$$ SELECT CASE WHEN total > 0 THEN done::float8 / total::float8 ELSE 0 END $$;

-- The Wilson 95 % interval of a share: Newcombe, Stat Med 1998;17:857-872.
CREATE FUNCTION glidepace.wilson(done bigint, total bigint, OUT low float8, OUT high float8) IMMUTABLE STRICT LANGUAGE sql AS $$
	SELECT coalesce(greatest(0, (centre - half) / (2 * (n + z2))), 0), coalesce(least(1, (centre + half) / (2 * (n + z2))), 1)
	FROM (SELECT n, z2, 2 * n * p + z2 AS centre, '1.959963984540054'::float8 * sqrt(z2 + 4 * n * p * (1 - p)) AS half
		FROM (SELECT total::float8 AS n, done::float8 / nullif(total, 0)::float8 AS p, '3.841458820694125'::float8 AS z2) AS of) AS parts
$$;

-- The sessions that are over, in order. Those with the same code are of one patient;
-- without a code, those with the same title. The day is NULL where it is not known.
CREATE VIEW glidepace.finished AS
	SELECT *, row_number() OVER (PARTITION BY course ORDER BY day, started NULLS FIRST, coalesce(place, 0), coalesce(number, 0), id COLLATE "C") AS n,
		outcome = 'symptoms' OR done_repetitions > 0 AS counts,
		NOT extra AND done_repetitions > 0 AND outcome <> 'symptoms' AS regular,
		CASE WHEN outcome = 'symptoms' THEN greatest(stops, 1) ELSE stops END AS all_stops
	FROM (SELECT *, coalesce('patient ' || patient, 'title ' || title, '') AS course,
			CASE WHEN NOT wrong_day AND date <= glidepace.today() THEN date END AS day
		FROM glidepace.sessions WHERE outcome IS NOT NULL) AS s;

-- The doses of each patient, one after the other: in force from the first session begun
-- under one, or from its start if that lies between this session and the one before.
CREATE VIEW glidepace.doses AS
	WITH dated AS (
		SELECT course, n, day, lag(day) OVER (PARTITION BY course ORDER BY n) AS before, plan -> 'dose' AS dose
		FROM glidepace.finished WHERE day IS NOT NULL
	), known AS (
		SELECT *, lag(dose) OVER (PARTITION BY course ORDER BY n) AS dose_before FROM dated WHERE jsonb_typeof(dose) = 'object'
	), parts AS (
		SELECT course, n, (dose ->> 'per_day_min')::int AS per_day_min, (dose ->> 'per_day_max')::int AS per_day_max,
			nullif((dose ->> 'days')::int, 0) AS days, nullif(dose ->> 'start', '')::date AS start, day, before
		FROM known WHERE dose IS DISTINCT FROM dose_before
	)
	SELECT course, row_number() OVER (PARTITION BY course ORDER BY n) AS k, per_day_min, per_day_max, first, coalesce(start, first) + days - 1 AS last
	FROM parts, LATERAL (SELECT CASE WHEN start > before OR start IS NOT NULL AND before IS NULL THEN start ELSE day END AS first) AS f;

-- What each day asked for and what was done of it.
CREATE VIEW glidepace.days AS
	WITH dose AS MATERIALIZED (SELECT * FROM glidepace.doses), over AS MATERIALIZED (
		SELECT * FROM glidepace.finished WHERE counts AND day IS NOT NULL
	), done AS MATERIALIZED (
		SELECT course, day, count(*) AS sessions,
			count(*) FILTER (WHERE outcome = 'completed') AS completed, count(*) FILTER (WHERE outcome = 'ended-early') AS ended_early,
			count(*) FILTER (WHERE outcome NOT IN ('completed', 'ended-early', 'symptoms')) AS interrupted,
			count(*) FILTER (WHERE outcome = 'symptoms') AS stopped, count(*) FILTER (WHERE extra) AS extra, sum(all_stops) AS stops,
			count(*) FILTER (WHERE regular AND outcome = 'completed') AS full_sessions,
			max(planned_repetitions) FILTER (WHERE regular) AS planned, coalesce(sum(done_repetitions) FILTER (WHERE regular), 0) AS repetitions,
			bool_or(outcome = 'symptoms' OR settled IS FALSE) AS rest
		FROM over GROUP BY course, day
	), all_days AS MATERIALIZED (
		SELECT course, day FROM done
		UNION SELECT course, day::date FROM dose, generate_series(first, least(last, glidepace.today()), interval '1 day') AS day
	), planned_first AS MATERIALIZED (
		SELECT course, (array_agg(planned_repetitions ORDER BY n) FILTER (WHERE planned_repetitions > 0))[1] AS planned
		FROM over GROUP BY course
	), carried AS MATERIALIZED ( -- a day without a session asks for as many repetitions as the one before
		SELECT course, day, max(done.planned) OVER (PARTITION BY course, since) AS planned
		FROM (SELECT course, day, count(nullif(done.planned, 0)) OVER (PARTITION BY course ORDER BY day) AS since
			FROM all_days LEFT JOIN done USING (course, day)) AS d
		LEFT JOIN done USING (course, day)
	), asked AS MATERIALIZED (
		SELECT DISTINCT ON (course, day) course, day, CASE WHEN day > last THEN 0 ELSE per_day_min END AS least,
			CASE WHEN day > last THEN 0 ELSE per_day_max END AS most
		FROM all_days JOIN dose USING (course) WHERE first <= day ORDER BY course, day, k DESC
	), counted AS (
		SELECT *, least IS NOT NULL AS dose_known,
			CASE WHEN least IS NOT NULL AND (day = glidepace.today() OR rest) THEN least(least, coalesce(full_sessions, 0)) ELSE least END AS due,
			coalesce(carried.planned, planned_first.planned, 0) AS repetitions_due
		FROM all_days LEFT JOIN done USING (course, day) LEFT JOIN carried USING (course, day)
			LEFT JOIN planned_first USING (course) LEFT JOIN asked USING (course, day)
	)
	SELECT course, day, dose_known, coalesce(sessions, 0) AS sessions,
		CASE WHEN dose_known THEN least(due, coalesce(full_sessions, 0)) ELSE 0 END AS sessions_done, coalesce(due, 0) AS sessions_due,
		CASE WHEN dose_known THEN least(coalesce(repetitions, 0), due * repetitions_due) ELSE 0 END AS repetitions_done,
		coalesce(due * repetitions_due, 0) AS repetitions_due,
		coalesce(completed, 0) AS completed, coalesce(ended_early, 0) AS ended_early, coalesce(interrupted, 0) AS interrupted,
		coalesce(stopped, 0) AS stopped, coalesce(extra, 0) + coalesce(greatest(0, full_sessions - most), 0) AS extra, coalesce(stops, 0) AS stops
	FROM counted WHERE sessions > 0 OR due > 0;

-- Adherence, dose and stops of each patient and week of ISO 8601.
CREATE VIEW glidepace.weeks AS
	SELECT course, iso_year, iso_week, sessions_done, sessions_due, glidepace.share(sessions_done, sessions_due) AS share, low AS low95, high AS high95,
		repetitions_done, repetitions_due, glidepace.share(repetitions_done, repetitions_due) AS repetitions_share,
		completed, ended_early, interrupted, stopped, extra, stops
	FROM (
		SELECT course, extract(isoyear FROM day)::int AS iso_year, extract(week FROM day)::int AS iso_week,
			sum(sessions_done)::bigint AS sessions_done, sum(sessions_due)::bigint AS sessions_due,
			sum(repetitions_done)::bigint AS repetitions_done, sum(repetitions_due)::bigint AS repetitions_due,
			sum(completed) AS completed, sum(ended_early) AS ended_early, sum(interrupted) AS interrupted, sum(stopped) AS stopped,
			sum(extra) AS extra, sum(stops) AS stops
		FROM glidepace.days GROUP BY course, extract(isoyear FROM day), extract(week FROM day)
	) AS w, glidepace.wilson(sessions_done, sessions_due);

-- The same of each patient. Stops on days that are not known are among the stops.
CREATE VIEW glidepace.patients AS
	SELECT course, sessions_done, sessions_due, glidepace.share(sessions_done, sessions_due) AS share, low AS low95, high AS high95,
		repetitions_done, repetitions_due, glidepace.share(repetitions_done, repetitions_due) AS repetitions_share, all_stops AS stops
	FROM (SELECT course, sum(all_stops) AS all_stops FROM glidepace.finished WHERE counts GROUP BY course) AS s
	LEFT JOIN (
		SELECT course, sum(sessions_done)::bigint AS sessions_done, sum(sessions_due)::bigint AS sessions_due,
			sum(repetitions_done)::bigint AS repetitions_done, sum(repetitions_due)::bigint AS repetitions_due
		FROM glidepace.days GROUP BY course HAVING bool_or(dose_known)
	) AS d USING (course), glidepace.wilson(sessions_done, sessions_due);
