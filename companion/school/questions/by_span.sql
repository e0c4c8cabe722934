-- Praise to reminders by week, and by month where a week is too small. Reads phase_groups and asked.
SELECT span, sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
FROM phase_groups
WHERE span >= (SELECT since FROM asked) AND span <= (SELECT until FROM asked)
GROUP BY span ORDER BY span
