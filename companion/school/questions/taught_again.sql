-- What was taught again, and whether it helped: lessons afterwards that needed a reminder, beside those that were to
-- be expected anyway (in thousandths, with the variance). Reads taught_groups and asked.
SELECT kind, sum(lessons) AS lessons, sum(teachings) AS teachings, sum(then_lessons) AS then_lessons,
    sum(then_needy) AS then_needy, sum(then_expected) AS then_expected, sum(then_spread) AS then_spread
FROM taught_groups
WHERE span >= (SELECT substr(since, 1, 7) FROM asked) AND span <= (SELECT substr(until, 1, 7) FROM asked)
GROUP BY kind ORDER BY kind
