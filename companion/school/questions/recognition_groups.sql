-- The smallest groups of lessons that are told: those of a grade in a span that took home the same recognition.
-- By week only where every recognition of the month may be told so by the rule of spans; else by month, when that is
-- over. Recognitions that may not be told even then are put together with the smallest that may.
-- Reads lesson_phases (a row with sign -1 takes back what it says), spans and closed.
WITH class_groups AS (
    SELECT spans.span, substr(spans.span, 1, 7) AS month, spans.grade, recognition, room, school, class_group,
        sum(counted) AS lessons, sum(sign) AS held
    FROM lesson_phases JOIN spans ON told = spans.week AND lesson_phases.grade = spans.grade
    WHERE lesson = 1
    GROUP BY spans.span, substr(spans.span, 1, 7), spans.grade, recognition, room, school, class_group
),
span_rooms AS (
    SELECT span, month, grade, recognition, room, sum(lessons) AS lessons,
        sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) AS class_groups
    FROM class_groups GROUP BY span, month, grade, recognition, room
),
span_safe AS (
    SELECT month, grade,
        CASE WHEN sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) >= 3 AND sum(lessons) - max(lessons) >= 5
            AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2 THEN 1 ELSE 0 END AS safe
    FROM span_rooms GROUP BY span, month, grade, recognition HAVING sum(lessons) > 0
),
months AS (
    SELECT month, grade, min(safe) AS by_week FROM span_safe GROUP BY month, grade
),
span_class_groups AS (
    SELECT CASE WHEN by_week = 1 THEN span ELSE months.month END AS span, months.grade, recognition, room, school,
        class_group, sum(lessons) AS lessons, sum(held) AS held
    FROM class_groups JOIN months ON class_groups.month = months.month AND class_groups.grade = months.grade
    WHERE by_week = 1 OR months.month < (SELECT substr(week, 1, 7) FROM closed)
    GROUP BY CASE WHEN by_week = 1 THEN span ELSE months.month END, months.grade, recognition, room, school,
        class_group
),
rooms AS (
    SELECT span, grade, recognition, room, sum(lessons) AS lessons, sum(held) AS held,
        sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) AS class_groups
    FROM span_class_groups GROUP BY span, grade, recognition, room
),
recognitions AS (
    SELECT span, grade, recognition,
        CASE WHEN sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) >= 3 AND sum(lessons) - max(lessons) >= 5
            AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2 THEN 1 ELSE 0 END AS safe,
        sum(lessons) AS lessons, sum(held) AS held
    -- Of the table: some engines take a bare name for the sum that SELECT calls so.
    FROM rooms GROUP BY span, grade, recognition HAVING sum(rooms.lessons) > 0 OR sum(rooms.held) <> 0
),
ranked AS (
    SELECT span, grade, recognition, safe, held,
        min(safe) OVER (PARTITION BY span, grade) AS all_safe,
        row_number() OVER (PARTITION BY span, grade, safe ORDER BY lessons, recognition) AS smallest
    FROM recognitions
),
shown AS (
    SELECT span, grade, held,
        CASE WHEN safe = 0 OR (all_safe = 0 AND smallest = 1) THEN 'others'
            WHEN recognition = '' THEN 'none' ELSE recognition END AS recognition
    FROM ranked
)
SELECT span, grade, recognition, sum(held) AS lessons
FROM shown GROUP BY span, grade, recognition
