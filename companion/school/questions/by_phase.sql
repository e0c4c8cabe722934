-- Coverage, praise and reminders by phase, in the order of the lesson. Reads phase_groups and asked.
SELECT phase, sum(places) AS places, sum(held) AS held, sum(judged) AS judged,
    sum(praise) AS praise, sum(reminder) AS reminder, sum(named) AS named
FROM phase_groups
WHERE span >= (SELECT since FROM asked) AND span <= (SELECT until FROM asked)
GROUP BY phase ORDER BY phase
