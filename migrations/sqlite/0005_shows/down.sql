drop table show_classes;
drop table shows;
