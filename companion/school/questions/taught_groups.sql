-- Lessons in which something was taught again, and what came of teachings, over all grades, by month where that may be
-- told by the rule of spans; what is left is told by the half year, when that is over. Both are counted when they
-- became known.
-- Reads lesson_phases (a row with sign -1 takes back what it says) and closed.
WITH lessons AS (
    SELECT substr(told, 1, 7) AS month, room, session, revision, sign, counted,
        concat(school, ' / ', class_group) AS class_group,
        concat(substr(told, 1, 4), CASE WHEN substr(told, 6, 2) <= '06' THEN '-H1' ELSE '-H2' END) AS half,
        sum(taught) AS taught, sum(known) AS known, sum(then_lessons) AS then_lessons,
        sum(then_needy) AS then_needy, sum(then_expected) AS then_expected, sum(then_spread) AS then_spread
    FROM lesson_phases
    WHERE (taught > 0 OR known > 0) AND substr(told, 1, 7) < (SELECT substr(week, 1, 7) FROM closed)
    GROUP BY substr(told, 1, 7), room, session, revision, sign, counted, concat(school, ' / ', class_group),
        concat(substr(told, 1, 4), CASE WHEN substr(told, 6, 2) <= '06' THEN '-H1' ELSE '-H2' END)
),
kinds AS (
    SELECT 'taught' AS kind, month, half, room, class_group, sign, counted, sign * taught AS teachings,
        0 AS then_lessons, 0 AS then_needy, 0 AS then_expected, 0 AS then_spread
    FROM lessons WHERE taught > 0
    UNION ALL
    SELECT 'known' AS kind, month, half, room, class_group, sign, counted, sign * known AS teachings,
        sign * then_lessons AS then_lessons, sign * then_needy AS then_needy,
        sign * then_expected AS then_expected, sign * then_spread AS then_spread
    FROM lessons WHERE known > 0
),
month_rooms AS (
    SELECT kind, month, room, sum(counted) AS room_lessons,
        count(DISTINCT CASE WHEN counted = 1 THEN class_group END) AS class_groups
    FROM kinds GROUP BY kind, month, room
),
months AS (
    SELECT kind, month
    FROM month_rooms GROUP BY kind, month
    HAVING sum(CASE WHEN room_lessons > 0 THEN 1 ELSE 0 END) >= 3 AND sum(room_lessons) - max(room_lessons) >= 5
        AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2
),
in_spans AS (
    SELECT kinds.kind, CASE WHEN months.month IS NULL THEN half ELSE kinds.month END AS span, room, class_group,
        sign, counted, teachings, then_lessons, then_needy, then_expected, then_spread
    FROM kinds LEFT JOIN months ON kinds.kind = months.kind AND kinds.month = months.month
    WHERE months.month IS NOT NULL OR half < (
        SELECT concat(substr(week, 1, 4), CASE WHEN substr(week, 6, 2) <= '06' THEN '-H1' ELSE '-H2' END) FROM closed
    )
),
rooms AS (
    SELECT kind, span, room, sum(counted) AS room_lessons, sum(sign) AS lessons,
        count(DISTINCT CASE WHEN counted = 1 THEN class_group END) AS class_groups,
        sum(teachings) AS teachings, sum(then_lessons) AS then_lessons, sum(then_needy) AS then_needy,
        sum(then_expected) AS then_expected, sum(then_spread) AS then_spread
    FROM in_spans GROUP BY kind, span, room
)
SELECT kind, span, sum(lessons) AS lessons, sum(teachings) AS teachings, sum(then_lessons) AS then_lessons,
    sum(then_needy) AS then_needy, sum(then_expected) AS then_expected, sum(then_spread) AS then_spread
FROM rooms GROUP BY kind, span
HAVING sum(CASE WHEN room_lessons > 0 THEN 1 ELSE 0 END) >= 3 AND sum(room_lessons) - max(room_lessons) >= 5
    AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2
