-- The ledgers of a group and what was built, as DataFusion and Ballista see them: group/plant=NAME/plan=NAME/part-0.parquet
-- and built.csv (plant, plan, day, lots). Both lie in the folder that the engine is started in.

CREATE EXTERNAL TABLE ledgers STORED AS PARQUET PARTITIONED BY (plant, plan) LOCATION 'group/';

CREATE EXTERNAL TABLE built (plant VARCHAR, plan VARCHAR, day DATE, lots BIGINT)
STORED AS CSV LOCATION 'built.csv' OPTIONS ('format.has_header' 'true');
