-- In which span the lessons of a grade are told: their week, or else their month, or else not at all.
-- The lessons of a grade in a span may be told if they are of at least three rooms, without any one of them still
-- at least five, and if at least two of the rooms had three class groups there: so without any one room three are left.
-- What corrects a lesson counts for none of this. Reads lesson_phases and closed (one row: the last week that is told).
WITH class_groups AS (
    SELECT told AS week, substr(told, 1, 7) AS month, grade, room, school, class_group, count(*) AS lessons
    FROM lesson_phases
    WHERE lesson = 1 AND counted = 1 AND told <= (SELECT week FROM closed)
    GROUP BY told, substr(told, 1, 7), grade, room, school, class_group
),
week_rooms AS (
    SELECT week, month, grade, room, sum(lessons) AS lessons, count(*) AS class_groups
    FROM class_groups GROUP BY week, month, grade, room
),
weeks AS (
    SELECT week, month, grade,
        CASE WHEN count(*) >= 3 AND sum(lessons) - max(lessons) >= 5
            AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2 THEN 1 ELSE 0 END AS safe
    FROM week_rooms GROUP BY week, month, grade
),
month_class_groups AS (
    SELECT weeks.month, weeks.grade, room, school, class_group, sum(lessons) AS lessons
    FROM class_groups JOIN weeks ON class_groups.week = weeks.week AND class_groups.grade = weeks.grade
    WHERE weeks.safe = 0 AND weeks.month < (SELECT substr(week, 1, 7) FROM closed)
    GROUP BY weeks.month, weeks.grade, room, school, class_group
),
month_rooms AS (
    SELECT month, grade, room, sum(lessons) AS lessons, count(*) AS class_groups
    FROM month_class_groups GROUP BY month, grade, room
),
months AS (
    SELECT month, grade
    FROM month_rooms GROUP BY month, grade
    HAVING count(*) >= 3 AND sum(lessons) - max(lessons) >= 5
        AND sum(CASE WHEN class_groups >= 3 THEN 1 ELSE 0 END) >= 2
)
SELECT week, grade, week AS span FROM weeks WHERE safe = 1
UNION ALL
SELECT weeks.week, weeks.grade, months.month AS span
FROM weeks JOIN months ON weeks.month = months.month AND weeks.grade = months.grade
WHERE weeks.safe = 0
