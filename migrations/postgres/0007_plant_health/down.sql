drop index plants_cultivar_id_owner_id_idx;
create index plants_cultivar_id_idx on plants (cultivar_id);
drop table conservation_list;
drop table swap_refusals;
drop table swap_terms;
drop table propagation_permissions;
drop table health_holds;
drop table notices;
alter table regions drop column plant_health_zone;
drop index swap_offers_plant_id_idx;
alter table swap_offers drop column health_declared_on;

-- Before this change a want names one cultivar: the one that was handed over for it, or its dearest choice. It
-- is not open any more then, since that is not what was asked for. A group nobody has given of goes.
update swap_wants set
    cultivar_id = coalesce(
        (select min(h.cultivar_id) from swap_hand_overs h where h.want_id = swap_wants.id),
        (select c.cultivar_id from swap_want_choices c where c.want_id = swap_wants.id and c.place = 1)),
    form = 'cultivar',
    plant_group = null,
    listing = case when listing = 'open' then 'withdrawn' else listing end
where form = 'any_of'
    or (form = 'group' and exists (select 1 from swap_hand_overs h where h.want_id = swap_wants.id));
drop table swap_want_choices;
delete from swap_wants where form = 'group';

create table swap_wants_kept as select * from swap_wants;
create table swap_hand_overs_kept as select * from swap_hand_overs;
drop table swap_hand_overs;
drop table swap_wants;
create table swap_wants (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    cultivar_id text collate "C" not null references cultivars (id),
    want_rank integer not null constraint swap_wants_want_rank_check check (want_rank between 1 and 100),
    -- True while the want stands in a proposed or accepted ring.
    promised boolean not null,
    note text collate "C",
    listing text collate "C" not null constraint swap_wants_listing_check check (listing in ('open', 'withdrawn', 'fulfilled')),
    version integer not null,
    created_at timestamp not null
);
insert into swap_wants (id, member_id, cultivar_id, want_rank, promised, note, listing, version, created_at)
    select id, member_id, cultivar_id, want_rank, promised, note, listing, version, created_at from swap_wants_kept;
create index swap_wants_member_id_id_idx on swap_wants (member_id, id);
create index swap_wants_cultivar_id_idx on swap_wants (cultivar_id);
-- One open want of a cultivar per member; what was met or taken back may be wanted again.
create unique index swap_wants_member_id_cultivar_id_key on swap_wants (member_id, cultivar_id) where listing = 'open';
create table swap_hand_overs (
    id text collate "C" not null primary key,
    ring_id text collate "C" not null references swap_rings (id),
    place integer not null,
    giver_id text collate "C" not null references members (id),
    receiver_id text collate "C" not null references members (id),
    offer_id text collate "C" not null references swap_offers (id),
    want_id text collate "C" not null references swap_wants (id),
    cultivar_id text collate "C" not null references cultivars (id),
    -- The giver's answer to the ring as a whole: each member of a ring gives once.
    answer text collate "C" not null constraint swap_hand_overs_answer_check
        check (answer in ('waiting', 'accepted', 'declined')),
    answered_at timestamp,
    constraint swap_hand_overs_ring_id_place_key unique (ring_id, place),
    constraint swap_hand_overs_two_people_check check (giver_id <> receiver_id)
);
insert into swap_hand_overs (
    id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id, answer, answered_at)
    select id, ring_id, place, giver_id, receiver_id, offer_id, want_id, cultivar_id, answer, answered_at
    from swap_hand_overs_kept;
create index swap_hand_overs_giver_id_idx on swap_hand_overs (giver_id);
create index swap_hand_overs_offer_id_idx on swap_hand_overs (offer_id);
create index swap_hand_overs_want_id_idx on swap_hand_overs (want_id);
drop table swap_hand_overs_kept;
drop table swap_wants_kept;
