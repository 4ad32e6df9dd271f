-- The ledgers of a group and what was built, as DuckDB sees them: group/plant=NAME/plan=NAME/part-0.parquet and built.csv
-- (plant, plan, day, lots). Both lie in the folder that the engine is started in. Names stay texts, as
-- a plan may be called 007. Columns of their own that only some plants have are empty for the others.

CREATE VIEW ledgers AS
SELECT * FROM read_parquet(
    'group/*/*/*.parquet', union_by_name = true, hive_partitioning = true, hive_types_autocast = false
);

CREATE VIEW built AS
SELECT * FROM read_csv(
    'built.csv', header = true,
    columns = {'plant': 'VARCHAR', 'plan': 'VARCHAR', 'day': 'DATE', 'lots': 'BIGINT'}
);
