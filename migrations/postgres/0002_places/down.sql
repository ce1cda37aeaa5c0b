drop table readings;
drop table stations;
