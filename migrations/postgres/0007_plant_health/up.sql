-- What the server tells one member: a date to keep, a plant to look at.
create table notices (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    kind text collate "C" not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread')),
    due_on date not null,
    words text collate "C" not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text collate "C" constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over')),
    subject_id text collate "C",
    created_at timestamp not null,
    seen_at timestamp,
    done_at timestamp,
    constraint notices_subject_check check ((subject_kind is null) = (subject_id is null))
);
create index notices_member_id_due_on_idx on notices (member_id, due_on, id);
create index notices_kind_subject_id_idx on notices (kind, subject_id, member_id);

-- Plants of different zones do not change hands in the exchange.
alter table regions add column plant_health_zone text collate "C" not null default 'home'
    constraint regions_plant_health_zone_check check (length(plant_health_zone) between 1 and 60);

-- A hold keeps a plant, or every plant of a member, out of the exchange until it is lifted.
create table health_holds (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    -- Null for every plant of the member.
    plant_id text collate "C" references plants (id),
    reason text collate "C" not null,
    placed_by text collate "C" not null references members (id),
    placed_at timestamp not null,
    lifted_by text collate "C" references members (id),
    lifted_at timestamp,
    lift_note text collate "C",
    constraint health_holds_lifted_check check ((lifted_by is null) = (lifted_at is null))
);
create index health_holds_member_id_idx on health_holds (member_id, id);
create index health_holds_plant_id_idx on health_holds (plant_id);
create index health_holds_lifted_at_idx on health_holds (lifted_at);

-- What the holder of the rights in a protected cultivar permitted.
create table propagation_permissions (
    cultivar_id text collate "C" not null primary key references cultivars (id),
    words text collate "C" not null,
    -- The last day it holds; null where no end was set.
    until_on date,
    recorded_by text collate "C" not null references members (id),
    recorded_at timestamp not null,
    version integer not null
);

-- What a member is ready to do in one round; where there is no row, the usual terms hold.
create table swap_terms (
    member_id text collate "C" not null primary key references members (id),
    give_most integer not null constraint swap_terms_give_most_check check (give_most between 0 and 50),
    receive_most integer not null constraint swap_terms_receive_most_check check (receive_most between 0 and 50),
    by_post boolean not null,
    within_km integer constraint swap_terms_within_km_check check (within_km between 1 and 2000),
    version integer not null
);

-- With whom a member does not want to swap; known to that member alone.
create table swap_refusals (
    member_id text collate "C" not null references members (id),
    other_id text collate "C" not null references members (id),
    created_at timestamp not null,
    constraint swap_refusals_pkey primary key (member_id, other_id),
    constraint swap_refusals_two_people_check check (member_id <> other_id)
);
create index swap_refusals_other_id_idx on swap_refusals (other_id);

alter table swap_offers add column health_declared_on date;
create index swap_offers_plant_id_idx on swap_offers (plant_id);

-- A want of any of several cultivars, or of a group, names no single one. A column cannot lose its rule in
-- place, so another takes its name; the wants stay where the hand-overs point at them.
drop index swap_wants_member_id_cultivar_id_key;
drop index swap_wants_cultivar_id_idx;
alter table swap_wants rename column cultivar_id to cultivar_id_before;
alter table swap_wants add column cultivar_id text collate "C" references cultivars (id);
update swap_wants set cultivar_id = cultivar_id_before;
alter table swap_wants drop column cultivar_id_before;
alter table swap_wants add column plant_group text collate "C" constraint swap_wants_plant_group_check
    check (plant_group in (
        'zonal', 'fancy_leaf', 'stellar', 'rosebud', 'dwarf', 'miniature', 'ivy_leaved', 'regal', 'angel',
        'unique', 'scented_leaf', 'species'));
alter table swap_wants add column form text collate "C" not null default 'cultivar'
    constraint swap_wants_form_check check (form in ('cultivar', 'any_of', 'group'))
    constraint swap_wants_one_form_check
        check ((form = 'cultivar') = (cultivar_id is not null) and (form = 'group') = (plant_group is not null));
create index swap_wants_cultivar_id_idx on swap_wants (cultivar_id);
-- One open want of a cultivar per member; what was met or taken back may be wanted again.
create unique index swap_wants_member_id_cultivar_id_key on swap_wants (member_id, cultivar_id) where listing = 'open';

create table swap_want_choices (
    want_id text collate "C" not null references swap_wants (id),
    -- 1 for the dearest.
    place integer not null constraint swap_want_choices_place_check check (place between 1 and 50),
    cultivar_id text collate "C" not null references cultivars (id),
    constraint swap_want_choices_pkey primary key (want_id, place),
    constraint swap_want_choices_want_id_cultivar_id_key unique (want_id, cultivar_id)
);
create index swap_want_choices_cultivar_id_idx on swap_want_choices (cultivar_id);

-- Cultivars the society does not want to lose.
create table conservation_list (
    cultivar_id text collate "C" not null primary key references cultivars (id),
    reason text collate "C" not null,
    wanted_holders integer not null constraint conservation_list_wanted_holders_check
        check (wanted_holders between 1 and 1000),
    listed_by text collate "C" not null references members (id),
    listed_at timestamp not null,
    version integer not null
);

-- Who holds what can be counted without looking at the plants themselves.
drop index plants_cultivar_id_idx;
create index plants_cultivar_id_owner_id_idx on plants (cultivar_id, owner_id, how_many, visibility);
