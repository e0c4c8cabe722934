-- Lessons by week (or month) and by what the class took home. Reads recognition_groups and asked.
SELECT span, recognition, sum(lessons) AS lessons
FROM recognition_groups
WHERE span >= (SELECT since FROM asked) AND span <= (SELECT until FROM asked)
GROUP BY span, recognition ORDER BY span, recognition
