-- Praise to reminders by grade, over the spans asked for. Reads phase_groups and asked (one row: since, until).
SELECT grade, sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
FROM phase_groups
WHERE span >= (SELECT since FROM asked) AND span <= (SELECT until FROM asked)
GROUP BY grade ORDER BY grade
