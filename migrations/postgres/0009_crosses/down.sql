drop table cross_counts;
drop table pollinations;
drop table cross_parents;
drop table seedlings;
drop table crosses;

delete from notices where subject_kind = 'cross';
alter table notices drop constraint notices_kind_check;
alter table notices add constraint notices_kind_check
    check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread'));
alter table notices drop constraint notices_subject_kind_check;
alter table notices add constraint notices_subject_kind_check
    check (subject_kind in ('plant', 'cultivar', 'hand_over'));
