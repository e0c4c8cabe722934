-- Lessons by grade and by what the class took home. Reads recognition_groups and asked.
SELECT grade, recognition, sum(lessons) AS lessons
FROM recognition_groups
WHERE span >= (SELECT since FROM asked) AND span <= (SELECT until FROM asked)
GROUP BY grade, recognition ORDER BY grade, recognition
