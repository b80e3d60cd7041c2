package engine

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// escapes are statements that would reach beyond the views. SECRET stands for a file outside the lake, LIVE for one of its own.
var escapes = []string{
	"SELECT * FROM read_csv('SECRET')",
	"SELECT * FROM read_csv_auto('SECRET')",
	"SELECT * FROM read_text('SECRET')",
	"SELECT * FROM read_blob('SECRET')",
	"SELECT * FROM read_json('SECRET')",
	"SELECT * FROM read_json_objects('SECRET')",
	"SELECT * FROM read_ndjson_auto('SECRET')",
	"SELECT * FROM read_parquet('LIVE')",
	"SELECT * FROM parquet_scan('LIVE')",
	"SELECT * FROM parquet_metadata('LIVE')",
	"SELECT * FROM parquet_schema('LIVE')",
	"SELECT * FROM parquet_kv_metadata('LIVE')",
	"SELECT * FROM parquet_file_metadata('LIVE')",
	"SELECT * FROM parquet_bloom_probe('LIVE', 'run_id', 'x')",
	"SELECT * FROM sniff_csv('SECRET')",
	"SELECT * FROM glob('/*')",
	"SELECT * FROM read_duckdb('SECRET')",
	"SELECT * FROM 'SECRET'",
	"FROM 'LIVE'",
	"SELECT * FROM \"SECRET\"",
	"TABLE 'SECRET'",
	"DESCRIBE 'LIVE'",
	"SUMMARIZE 'LIVE'",
	"DESCRIBE SELECT * FROM read_csv('SECRET')",
	"SELECT (SELECT content FROM read_text('SECRET'))",
	"SELECT * FROM runs WHERE run_id IN (SELECT content FROM read_text('SECRET'))",
	"SELECT * FROM runs, LATERAL (SELECT * FROM read_text('SECRET')) x",
	"SELECT * FROM runs JOIN read_text('SECRET') t ON true",
	"WITH a AS (SELECT * FROM read_text('SECRET')) SELECT * FROM a",
	"WITH a AS MATERIALIZED (SELECT * FROM read_text('SECRET')) SELECT 1",
	"WITH RECURSIVE a(x) AS (SELECT 1 UNION ALL SELECT size FROM read_text('SECRET')) SELECT * FROM a",
	"WITH \"SECRET\" AS (SELECT 1) SELECT * FROM \"SECRET\"",
	"SELECT * FROM (WITH hidden AS (SELECT 1) SELECT * FROM hidden) a, hidden",
	"SELECT 1 UNION ALL SELECT size FROM read_text('SECRET')",
	"SELECT 1 EXCEPT (SELECT size FROM read_text('SECRET'))",
	"SELECT 1 ORDER BY (SELECT size FROM read_text('SECRET'))",
	"SELECT 1 LIMIT (SELECT size FROM read_text('SECRET'))",
	"SELECT DISTINCT ON ((SELECT size FROM read_text('SECRET'))) 1",
	"SELECT count(*) OVER (ORDER BY (SELECT size FROM read_text('SECRET')))",
	"SELECT count(*) FILTER (WHERE (SELECT size > 0 FROM read_text('SECRET'))) FROM runs",
	"SELECT list_transform([1], lambda x: (SELECT size FROM read_text('SECRET')))",
	"SELECT CASE WHEN (SELECT size FROM read_text('SECRET')) > 0 THEN 1 END",
	"VALUES ((SELECT size FROM read_text('SECRET')))",
	"FROM range((SELECT size FROM read_text('SECRET'))) SELECT 1",
	"PIVOT (SELECT * FROM read_text('SECRET')) ON size IN (1) USING count(*)",
	"UNPIVOT (SELECT size FROM read_text('SECRET')) ON size",
	"EXPLAIN SELECT * FROM read_text('SECRET')",
	"EXPLAIN ANALYZE SELECT * FROM read_text('SECRET')",
	"EXPLAIN (FORMAT json) SELECT * FROM read_text('SECRET')",
	"EXPLAIN ANALYZE COPY (SELECT 1) TO 'OUT'",
	"EXPLAIN (ANALYZE) COPY (SELECT 1) TO 'OUT'",
	"/* SELECT */ COPY (SELECT 1) TO 'OUT'",
	"COPY (SELECT 1) TO 'OUT'",
	"COPY (SELECT 1 AS x) TO 'LIVE' (FORMAT parquet)",
	"COPY runs TO 'OUT'",
	"COPY runs FROM 'SECRET'",
	"EXPORT DATABASE 'OUT'",
	"IMPORT DATABASE 'OUT'",
	"ATTACH 'OUT'",
	"ATTACH ':memory:' AS other",
	"DETACH memory",
	"USE system",
	"INSTALL httpfs",
	"LOAD httpfs",
	"LOAD 'SECRET'",
	"UPDATE EXTENSIONS",
	"SET enable_external_access = true",
	"SET GLOBAL allowed_directories = ['/']",
	"RESET lock_configuration",
	"SET VARIABLE x = 1",
	"PRAGMA database_list",
	"PRAGMA enable_profiling",
	"CALL pragma_version()",
	"CALL enable_logging()",
	"CHECKPOINT",
	"VACUUM",
	"ANALYZE",
	"BEGIN",
	"PREPARE p AS SELECT 1",
	"EXECUTE p",
	"DROP VIEW samples",
	"CREATE VIEW v AS SELECT 1",
	"CREATE OR REPLACE VIEW runs AS SELECT 1",
	"CREATE TABLE t AS SELECT 1",
	"CREATE TEMP TABLE t AS SELECT 1",
	"CREATE MACRO f() AS 1",
	"create secret s (TYPE s3)",
	"CREATE SEQUENCE s",
	"INSERT INTO runs VALUES (1)",
	"DELETE FROM runs",
	"UPDATE runs SET run_id = 1",
	"MERGE INTO runs USING runs r ON true WHEN MATCHED THEN DELETE",
	"TRUNCATE runs",
	"ALTER VIEW runs RENAME TO walks",
	"COMMENT ON VIEW runs IS 'x'",
	"SELECT 1; SELECT 2",
	"SELECT 1; DROP VIEW samples",
	";;SELECT 1;; COPY (SELECT 1) TO 'OUT'",
	"",
	"-- nothing",
	"SELECT * FROM duckdb_settings()",
	"SELECT * FROM duckdb_views()",
	"SELECT * FROM duckdb_secrets()",
	"SELECT * FROM duckdb_extensions()",
	"SELECT * FROM duckdb_variables()",
	"SELECT * FROM pragma_database_size()",
	"SELECT * FROM pragma_table_info('runs')",
	"SELECT * FROM information_schema.tables",
	"SELECT * FROM pg_catalog.pg_views",
	"SELECT * FROM sqlite_master",
	"SELECT * FROM system.main.duckdb_views",
	"SELECT * FROM temp.main.runs",
	"SELECT * FROM which_secret('s3://a', 's3')",
	"SELECT * FROM query('SELECT 1')",
	"SELECT * FROM query_table('runs')",
	"SELECT * FROM histogram('SECRET', size)",
	"SELECT * FROM histogram_values(runs, rows)",
	"SELECT * FROM json_execute_serialized_sql(json_serialize_sql('SELECT * FROM read_text(''SECRET'')'))",
	"SELECT json_serialize_plan('SELECT * FROM read_text(''SECRET'')')",
	"SELECT * FROM sql_auto_complete('SELECT * FROM read_')",
	"SELECT * FROM test_all_types()",
	"SELECT * FROM seq_scan()",
	"SELECT * FROM repeat_row(1, num_rows => 3)",
	"SELECT current_setting('temp_directory')",
	"SELECT getenv('HOME')",
	"SELECT getvariable('x')",
	"SELECT current_query()",
	"SELECT pg_get_viewdef(1)",
	"SELECT current_database()",
	"SELECT system.main.current_database()",
	"SELECT nextval('s')",
	"SELECT currval('s')",
	"SELECT write_log('x')",
	"SELECT sleep_ms(1)",
	"SELECT pg_sleep(1)",
	"SELECT setseed(0.5)",
	"SELECT txid_current()",
	"SELECT * FROM runs AT (VERSION => 1)",
	"SHOW DATABASES",
	"SHOW ALL TABLES",
	"SHOW VARIABLES",
	"SHOW TABLES FROM system",
	"SHOW memory_limit",
	"SELECT * FROM (SHOW ALL TABLES)",
	"SELECT * FROM (DESCRIBE SELECT * FROM read_csv('SECRET'))",
	"SELECT * FROM 'https://127.0.0.1/x.parquet'",
	"SELECT * FROM read_parquet('s3://bucket/x.parquet')",
	"SELECT\x00 1",
	"SELECT ('SECRET').read_text()",
	"SELECT ('SECRET').read_csv().a",
	"SELECT [1].list_transform(lambda x: current_setting('threads'))",
	"SELECT * FROM runs WHERE getvariable('a') = 1",
	"SELECT * FROM runs TABLESAMPLE 10% JOIN read_csv('SECRET') ON true",
	"EXPLAIN (ANALYZE, FORMAT json) COPY (SELECT 1) TO 'OUT'",
	"EXPLAIN EXPLAIN SELECT 1",
	"EXPLAIN (SELECT 1); DROP VIEW samples",
	"WITH x AS (INSERT INTO runs VALUES (1) RETURNING *) SELECT * FROM x",
	"SELECT * FROM (VALUES (nextval('s')))",
	"SELECT x.* FROM (SELECT unnest(['LIVE']) AS f) t, LATERAL read_parquet(t.f) x",
}

func TestEscapesAreRefused(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 2, 3)
	outside := t.TempDir()
	secret := filepath.Join(outside, "secret.csv")
	if err := os.WriteFile(secret, []byte("a,b\n1,2\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	live := filepath.Join(snap.Root, snap.Files["samples"][0])
	before, err := os.ReadFile(live)
	if err != nil {
		t.Fatal(err)
	}
	s := open(t, snap, Options{})
	for _, e := range slices.Concat(escapes, newerEscapes) {
		statement := strings.NewReplacer("SECRET", secret, "LIVE", live, "OUT", filepath.Join(outside, "out")).Replace(e)
		rows, err := s.Query(t.Context(), statement)
		if err == nil {
			t.Errorf("%s: was run", e)
			_ = rows.Close()
			continue
		}
		var refused *Refused
		var fault *Fault
		if !errors.As(err, &refused) && (!errors.As(err, &fault) || fault.Kind != "Parser") {
			t.Errorf("%s: got %v, want a refusal before it is run", e, err)
		}
		if refused != nil && (len(refused.Why) < 15 || strings.Contains(refused.Why, "\n")) {
			t.Errorf("%s: the refusal says %q", e, refused.Why)
		}
	}
	if got := ask(t, s, "SELECT count(*) FROM samples")[0][0]; got != int64(6) {
		t.Errorf("samples has %v rows after all that", got)
	}
	if after, err := os.ReadFile(live); err != nil || string(after) != string(before) {
		t.Errorf("a file of the lake was changed (%v)", err)
	}
	if left, err := os.ReadDir(outside); err != nil || len(left) != 1 {
		t.Errorf("files were made outside: %v (%v)", left, err)
	}
	t.Logf("%d escapes, each refused", len(escapes)+len(newerEscapes))
}

// Beneath admission the database holds by itself: what reaches out of the lake fails even where it is run.
func TestTheDatabaseIsClosed(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 2, 3)
	outside := t.TempDir()
	secret, out := filepath.Join(outside, "secret.csv"), filepath.Join(outside, "out")
	if err := os.WriteFile(secret, []byte("a,b\n1,2\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(secret, filepath.Join(snap.Root, "link.csv")); err != nil {
		t.Fatal(err)
	}
	s := open(t, snap, Options{})
	for _, statement := range []string{
		"SELECT * FROM read_csv(" + text(secret) + ")",
		"SELECT * FROM " + text(secret),
		"SELECT * FROM read_text(" + text(filepath.Join(snap.Root, "samples")+"/../../"+filepath.Base(outside)+"/secret.csv") + ")",
		"SELECT * FROM read_text(" + text(filepath.Join(snap.Root, "samples")+"/../link.csv") + ")",
		"SELECT * FROM read_text(" + text(filepath.Join(snap.Root, "link.csv")) + ")",
		"SELECT * FROM read_text(" + text(filepath.Join(snap.Root, "catalogue.db")) + ")",
		"SELECT * FROM read_text(" + text(snap.Root+"/samples-not/x.csv") + ")",
		"SELECT * FROM glob(" + text(outside+"/*") + ")",
		"COPY (SELECT 1) TO " + text(out),
		"ATTACH " + text(out),
		"EXPORT DATABASE " + text(out),
		"INSTALL httpfs",
		"LOAD httpfs",
		"SELECT * FROM read_csv('https://127.0.0.1:1/x.csv')",
		"SET enable_external_access = true",
		"SET GLOBAL allowed_directories = ['/']",
		"SET lock_configuration = false",
		"SET memory_limit = '1TB'",
		"SET temp_directory = " + text(outside),
	} {
		conn, err := s.db.connect()
		if err != nil {
			t.Fatal(err)
		}
		if found, err := conn.collect(t.Context(), statement); err == nil {
			t.Errorf("%s: gave %v", statement, found)
		}
		conn.close()
	}
	if left, err := os.ReadDir(outside); err != nil || len(left) != 1 {
		t.Errorf("files were made outside: %v (%v)", left, err)
	}
}

// Whatever the text, admission answers and does not break the session; what it refuses it explains.
func FuzzAdmit(f *testing.F) {
	for _, e := range slices.Concat(escapes, newerEscapes) {
		f.Add(e)
	}
	f.Add("WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t) SELECT * FROM samples s JOIN t ON s.gear = t.n WHERE run_id = 'x'")
	s, err := OpenTables(f.Context(), nil, Options{Threads: 1})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = s.Close() })
	f.Fuzz(func(t *testing.T, statement string) {
		err := s.Admit(t.Context(), statement)
		var refused *Refused
		var fault *Fault
		if err != nil && !errors.As(err, &refused) && !errors.As(err, &fault) {
			t.Errorf("%q: %v", statement, err)
		}
	})
}

// What an analyst writes is admitted and runs.
func TestAdmitted(t *testing.T) {
	s := open(t, writeRuns(t, t.TempDir(), 4, 30), Options{})
	for _, statement := range []string{
		"SELECT 1", "select 1;", "  -- a comment\n/* and another */ SELECT 1 ;; ", "VALUES (1, 'a'), (2, 'b')", "FROM runs", "TABLE runs",
		"FROM runs SELECT vehicle", "SELECT * FROM main.runs", "SELECT * FROM RUNS", `SELECT * FROM "runs"`,
		"WITH a AS (SELECT * FROM runs), b AS (SELECT * FROM a) SELECT count(*) FROM b",
		"WITH runs AS (SELECT run_id FROM runs) SELECT * FROM runs",
		"WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t WHERE n < 5) SELECT sum(n) FROM t",
		"SELECT vehicle, count(*) n, median(rows), quantile_cont(rows, 0.9), stddev_samp(rows) FROM runs GROUP BY ALL HAVING count(*) > 0 ORDER BY ALL LIMIT 3 OFFSET 0",
		"SELECT run_id, t_s, boost_kpa - lag(boost_kpa) OVER (PARTITION BY run_id ORDER BY t_s) AS rise FROM samples QUALIFY row_number() OVER (PARTITION BY run_id ORDER BY t_s) = 2",
		"SELECT regr_slope(boost_kpa, engine_speed_rpm), corr(boost_kpa, t_s) FROM samples",
		"SELECT * FROM runs r ASOF JOIN samples s ON r.run_id = s.run_id AND r.rows >= s.t_s",
		"SELECT * FROM runs SEMI JOIN samples USING (run_id)",
		"SELECT * FROM runs r, LATERAL (SELECT max(boost_kpa) FROM samples s WHERE s.run_id = r.run_id) m(top)",
		"SELECT unnest([1, 2, 3]), [x + 1 FOR x IN [1, 2] IF x > 1], {'a': 1}.a, list_transform([1], lambda x: x * 2)",
		"SELECT * FROM range(3) t(i), generate_series(1, 2) g(j)", "SELECT * FROM unnest(numbers('1.0, 1.5')) AS u(threshold)",
		"PIVOT runs ON vehicle IN ('v0', 'v1') USING count(*)", "UNPIVOT (SELECT 1 a, 2 b) ON a, b",
		"SELECT * FROM runs UNION ALL BY NAME SELECT run_id FROM samples", "(SELECT 1) INTERSECT (SELECT 1)",
		"SELECT CASE WHEN vehicle LIKE 'v%' THEN 1 ELSE 0 END, vehicle IN ('v0'), rows BETWEEN 1 AND 3, coalesce(NULL, 1), nullif(1, 1), try_cast('x' AS INT), rows::DOUBLE FROM runs",
		"SELECT date_trunc('month', started_at), strftime(started_at, '%Y'), started_at > '2026-01-01', extract(year FROM started_at), started_at + INTERVAL 1 DAY FROM runs",
		"SELECT upper(vehicle) || '-' || substr(run_id, 1, 4), regexp_extract(vehicle, '\\d+'), format('{:.2f}', 1.0), trim(vehicle) FROM runs",
		"SELECT EXISTS (SELECT 1 FROM samples), (SELECT count(*) FROM runs), 1 IN (SELECT 1)", "SELECT COLUMNS('.*_id') FROM runs",
		"SELECT * EXCLUDE (rows) REPLACE (upper(vehicle) AS vehicle) FROM runs", "SELECT * FROM samples USING SAMPLE 5 ROWS", "SELECT * FROM samples TABLESAMPLE 50%",
		"SELECT vehicle FROM runs GROUP BY ROLLUP (vehicle)", "SELECT grouping(vehicle) FROM runs GROUP BY CUBE (vehicle)",
		"SELECT first(vehicle ORDER BY run_id), string_agg(DISTINCT vehicle, ',' ORDER BY vehicle), arg_max(vehicle, rows), mode() WITHIN GROUP (ORDER BY vehicle), percentile_cont(0.5) WITHIN GROUP (ORDER BY rows) FROM runs",
		"SELECT bin_mid(engine_speed_rpm, 50), quantile_of(boost_kpa, 0.5), kpa_to_psi(100), words('a, b')[2] FROM samples GROUP BY 1 ORDER BY 1",
		"DESCRIBE samples", "SHOW TABLES", "SHOW runs", "SUMMARIZE runs", "SUMMARIZE SELECT rows FROM runs", "DESCRIBE SELECT 1 AS x",
		"EXPLAIN SELECT * FROM samples", "EXPLAIN ANALYZE SELECT count(*) FROM samples", "explain (format json) select 1", "EXPLAIN (SELECT 1)",
		`SELECT "at", text, value, unit, source FROM findings ORDER BY "at"`, "SELECT f.at FROM findings f WHERE f.at IS NULL", "SELECT rows, test, standard FROM runs", "SELECT bin, axis, n_samples FROM curves", "SELECT '" + strings.Repeat("x", 10000) + "'",
		"SELECT random() < 2, now() IS NOT NULL, current_date IS NOT NULL, pi(), 7 // 2, 7 % 2, 2 ** 3, ~1, NOT true, -rows, @(-1) FROM runs",
		"SELECT * FROM json_each('{\"a\": 1}')", "SELECT '{\"a\": 1}'::JSON ->> '$.a'",
	} {
		rows, err := s.Query(t.Context(), statement)
		if err != nil {
			t.Errorf("%s: %v", statement, err)
			continue
		}
		if _, err := rows.All(); err != nil {
			t.Errorf("%s: %v", statement, err)
		}
	}
}
