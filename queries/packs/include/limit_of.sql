-- The closest of the limits for each group of alike: a vehicle counts for more than all the rest together, then a platform, a duty,
-- a test; of equals the later entry wins.
limit_match AS (
    SELECT a.grp, l.entry, l.quantity, l.direction, l.bound, l.unit, l.note,
        CASE WHEN l.vehicle IS NULL THEN 0 ELSE 8 END + CASE WHEN l.platform IS NULL THEN 0 ELSE 4 END + CASE WHEN l.duty IS NULL THEN 0 ELSE 2 END + CASE WHEN l.test IS NULL THEN 0 ELSE 1 END AS weight
    FROM alike a
    JOIN limits l ON (l.vehicle IS NULL OR l.vehicle = a.vehicle) AND (l.platform IS NULL OR l.platform = a.platform)
        AND (l.duty IS NULL OR l.duty = a.duty) AND (l.test IS NULL OR l.test = a.test)
    WHERE a.pull_no = 1
),
limit_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, quantity, direction ORDER BY weight DESC, entry DESC) AS place FROM limit_match
),
limit_of AS (
    SELECT grp, entry, quantity, direction, bound, unit, note FROM limit_place WHERE place = 1
),
