-- The smallest groups of phases that are told: each phase of a grade in a span, if it may be told by the rule of spans.
-- Phases that may not are put together with the smallest that may, so that no subtraction brings them out.
-- Reads lesson_phases (a row with sign -1 takes back what it says) and spans.
WITH class_groups AS (
    SELECT spans.span, spans.grade, phase, room, school, class_group,
        sum(counted) AS lessons,
        sum(sign) AS held,
        sum(sign * place) AS places,
        sum(CASE WHEN praise + reminder > 0 THEN sign ELSE 0 END) AS judged,
        sum(sign * praise) AS praise, sum(sign * reminder) AS reminder, sum(sign * named) AS named
    FROM lesson_phases JOIN spans ON told = spans.week AND lesson_phases.grade = spans.grade
    WHERE held = 1
    GROUP BY spans.span, spans.grade, phase, room, school, class_group
),
rooms AS (
    SELECT span, grade, phase, room, sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) AS class_groups,
        sum(lessons) AS lessons, sum(held) AS held, sum(places) AS places,
        sum(judged) AS judged, sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
    FROM class_groups GROUP BY span, grade, phase, room
),
phases AS (
    SELECT span, grade, phase,
        CASE WHEN sum(CASE WHEN lessons > 0 THEN 1 ELSE 0 END) >= 3 AND sum(lessons) - max(lessons) >= 5
            AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2 THEN 1 ELSE 0 END AS safe,
        sum(lessons) AS lessons, sum(held) AS held, sum(places) AS places, sum(judged) AS judged,
        sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
    FROM rooms GROUP BY span, grade, phase
    -- Of the table: some engines take a bare name for the sum that SELECT calls so.
    HAVING sum(rooms.lessons) > 0 OR sum(rooms.held) <> 0 OR sum(rooms.praise) <> 0 OR sum(rooms.reminder) <> 0
        OR sum(rooms.named) <> 0
),
ranked AS (
    SELECT span, grade, phase, safe, held, places, judged, praise, reminder, named,
        min(safe) OVER (PARTITION BY span, grade) AS all_safe,
        row_number() OVER (PARTITION BY span, grade, safe ORDER BY lessons, phase) AS smallest
    FROM phases
),
shown AS (
    SELECT span, grade, held, places, judged, praise, reminder, named,
        CASE WHEN safe = 0 OR (all_safe = 0 AND smallest = 1) THEN 'other phases' ELSE phase END AS phase
    FROM ranked
)
SELECT span, grade, phase, sum(held) AS held, sum(places) AS places, sum(judged) AS judged,
    sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
FROM shown GROUP BY span, grade, phase
