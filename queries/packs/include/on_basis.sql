-- The candidates of the drive queries: pulls with net drive pressure, each with the basis that most of its bins stand on.
basis_count AS (
    SELECT run_id, segment_id, drive_basis AS basis, count(*) AS bins
    FROM curves
    WHERE axis = 'wheel_power_kw' AND net_drive_kpa IS NOT NULL AND drive_basis IS NOT NULL
    GROUP BY run_id, segment_id, drive_basis
),
basis_place AS (
    SELECT *, row_number() OVER (PARTITION BY run_id, segment_id ORDER BY bins DESC, basis) AS place
    FROM basis_count
),
candidate AS (
    SELECT run_id, segment_id, basis FROM basis_place WHERE place = 1
),
