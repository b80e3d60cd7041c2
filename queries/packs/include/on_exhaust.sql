-- The candidates of the exhaust queries: pulls with the exhaust's pressure, each with where most of its bins have it measured.
basis_count AS (
    SELECT run_id, segment_id, CASE WHEN turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END AS basis, count(*) AS bins
    FROM curves
    WHERE axis = 'wheel_power_kw' AND exhaust_gauge_kpa IS NOT NULL
    GROUP BY run_id, segment_id, CASE WHEN turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END
),
basis_place AS (
    SELECT *, row_number() OVER (PARTITION BY run_id, segment_id ORDER BY bins DESC, basis) AS place
    FROM basis_count
),
candidate AS (
    SELECT run_id, segment_id, basis FROM basis_place WHERE place = 1
),
