create table notices_after as select * from notices
    where kind <> 'club_invitation' and (subject_kind is null or subject_kind <> 'club');
drop table notices;
create table notices (
    id text not null primary key,
    member_id text not null references members (id),
    kind text not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due', 'name_questioned', 'name_registered', 'name_refused', 'show_news')),
    due_on date not null constraint notices_due_on_bounds_check check (due_on between '1600-01-01' and '2400-12-31'),
    words text not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross', 'registration', 'show')),
    subject_id text,
    created_at timestamp not null,
    seen_at timestamp,
    done_at timestamp,
    constraint notices_subject_check check ((subject_kind is null) = (subject_id is null))
);
insert into notices
    (id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at)
    select id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at
    from notices_after;
drop table notices_after;
create index notices_member_id_due_on_idx on notices (member_id, due_on, id);
create index notices_kind_subject_id_idx on notices (kind, subject_id, member_id);

drop table club_invitations;
drop table club_shares;
