-- The clubs that a member shares with: what is "for my clubs" is seen by the members of these, as long as the
-- member belongs to them too. Written by the member's own acts alone; kept when they leave, so that it holds again
-- when they come back.
create table club_shares (
    member_id text collate "C" not null references members (id),
    club_id text collate "C" not null references clubs (id),
    shares boolean not null,
    constraint club_shares_pkey primary key (member_id, club_id)
);
create index club_shares_club_id_idx on club_shares (club_id, member_id);
-- Everybody was shared with in every club they belonged to.
insert into club_shares (member_id, club_id, shares) select member_id, club_id, true from club_members;

-- Members of the society whom a club asks to belong to it.
create table club_invitations (
    club_id text collate "C" not null references clubs (id),
    member_id text collate "C" not null references members (id),
    role text collate "C" not null constraint club_invitations_role_check check (role in ('member', 'secretary')),
    asked_by text collate "C" not null references members (id),
    asked_at timestamp not null,
    state text collate "C" not null constraint club_invitations_state_check
        check (state in ('asked', 'accepted', 'declined')),
    answered_at timestamp,
    -- The club asks no more; what the member said stays, so that taking back and asking again tells nothing of it.
    taken_back boolean not null,
    constraint club_invitations_answered_check check ((state = 'asked') = (answered_at is null)),
    constraint club_invitations_pkey primary key (club_id, member_id)
);
create index club_invitations_member_id_idx on club_invitations (member_id, club_id);

-- Notices tell of clubs too.
create table notices_before as select * from notices;
drop table notices;
create table notices (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    kind text collate "C" not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due', 'name_questioned', 'name_registered', 'name_refused', 'show_news', 'club_invitation')),
    due_on date not null constraint notices_due_on_bounds_check check (due_on between '1600-01-01' and '2400-12-31'),
    words text collate "C" not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text collate "C" constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross', 'registration', 'show', 'club')),
    subject_id text collate "C",
    created_at timestamp not null,
    seen_at timestamp,
    done_at timestamp,
    constraint notices_subject_check check ((subject_kind is null) = (subject_id is null))
);
insert into notices
    (id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at)
    select id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at
    from notices_before;
drop table notices_before;
create index notices_member_id_due_on_idx on notices (member_id, due_on, id);
create index notices_kind_subject_id_idx on notices (kind, subject_id, member_id);
