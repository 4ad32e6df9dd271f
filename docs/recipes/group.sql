-- Sums the ledgers of many plants. Run ledgers-datafusion.sql or ledgers-duckdb.sql first, see docs/scale.md.
--
-- Amounts are decimals of 38 digits in the ledger and stay so: they are added, and multiplied by whole numbers, never
-- divided. So each sum equals that of cutbill to the last digit, on any number of machines.

-- name: kinds
-- What is summed: a row for each currency, unit of weight and lot. Amounts of different rows must not be added.
SELECT book_currency, book_weight_unit, book_lot, COUNT(DISTINCT plant) AS plants, COUNT(*) AS amounts
FROM ledgers
GROUP BY book_currency, book_weight_unit, book_lot
ORDER BY book_currency, book_weight_unit, book_lot;

-- name: plans
-- What a lot of each plan costs and weighs.
SELECT plant, plan, book_currency, book_weight_unit, SUM(cost) AS cost, SUM(weight) AS weight
FROM ledgers
GROUP BY plant, plan, book_currency, book_weight_unit
ORDER BY plant, plan;

-- name: groups
-- Where the money is, over all plants.
SELECT book_currency, kind, "group", SUM(cost) AS cost, COUNT(*) AS amounts
FROM ledgers
GROUP BY book_currency, kind, "group"
ORDER BY book_currency, kind, "group";

-- name: built
-- What all that was built cost and weighed at standard.
SELECT ledgers.plant, book_currency, book_weight_unit,
    SUM(cost * CAST(lots AS DECIMAL(18, 0))) AS cost,
    SUM(weight * CAST(lots AS DECIMAL(18, 0))) AS weight
FROM (SELECT plant, plan, SUM(lots) AS lots FROM built GROUP BY plant, plan) AS units
JOIN ledgers ON ledgers.plant = units.plant AND ledgers.plan = units.plan
GROUP BY ledgers.plant, book_currency, book_weight_unit
ORDER BY ledgers.plant;

-- name: items
-- What all that was built took of each item, the dearest first.
SELECT book_currency, item, unit,
    SUM(quantity * CAST(lots AS DECIMAL(18, 0))) AS quantity,
    SUM(cost * CAST(lots AS DECIMAL(18, 0))) AS cost
FROM (SELECT plant, plan, SUM(lots) AS lots FROM built GROUP BY plant, plan) AS units
JOIN ledgers ON ledgers.plant = units.plant AND ledgers.plan = units.plan
GROUP BY book_currency, item, unit
ORDER BY book_currency, cost DESC, item;
