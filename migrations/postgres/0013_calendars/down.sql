drop table calendar_feeds;
