-- Days, moments and sums of money stay within what every calendar and every sum can hold: the years 1600 to 2400, a
-- million pounds. What was taken beyond them was a slip of the pen: where nothing needs to be said it is taken back, else it
-- is set to the nearest that is kept, where whoever wrote it finds it first in a list and can mend it.
update readings set day = '1600-01-01' where not day between '1600-01-01' and '2400-12-31';
alter table readings add constraint readings_day_bounds_check check (day is null or day between '1600-01-01' and '2400-12-31');
update plants set got_on = null where not got_on between '1600-01-01' and '2400-12-31';
alter table plants add constraint plants_got_on_bounds_check check (got_on is null or got_on between '1600-01-01' and '2400-12-31');
update diary_entries set day = '1600-01-01' where not day between '1600-01-01' and '2400-12-31';
alter table diary_entries add constraint diary_entries_day_bounds_check check (day is null or day between '1600-01-01' and '2400-12-31');
update swap_offers set health_declared_on = null where not health_declared_on between '1600-01-01' and '2400-12-31';
alter table swap_offers add constraint swap_offers_health_declared_on_bounds_check check (health_declared_on is null or health_declared_on between '1600-01-01' and '2400-12-31');
update swap_rounds set meets_on = null where not meets_on between '1600-01-01' and '2400-12-31';
alter table swap_rounds add constraint swap_rounds_meets_on_bounds_check check (meets_on is null or meets_on between '1600-01-01' and '2400-12-31');
update inside_readings set day = '1600-01-01' where not day between '1600-01-01' and '2400-12-31';
alter table inside_readings add constraint inside_readings_day_bounds_check check (day is null or day between '1600-01-01' and '2400-12-31');
update notices set due_on = '1600-01-01' where not due_on between '1600-01-01' and '2400-12-31';
alter table notices add constraint notices_due_on_bounds_check check (due_on is null or due_on between '1600-01-01' and '2400-12-31');
update propagation_permissions set until_on = null where not until_on between '1600-01-01' and '2400-12-31';
alter table propagation_permissions add constraint propagation_permissions_until_on_bounds_check check (until_on is null or until_on between '1600-01-01' and '2400-12-31');
update pollinations set day = '1600-01-01' where not day between '1600-01-01' and '2400-12-31';
alter table pollinations add constraint pollinations_day_bounds_check check (day is null or day between '1600-01-01' and '2400-12-31');
update cross_counts set day = '1600-01-01' where not day between '1600-01-01' and '2400-12-31';
alter table cross_counts add constraint cross_counts_day_bounds_check check (day is null or day between '1600-01-01' and '2400-12-31');
update registrations set published_on = null where not published_on between '1600-01-01' and '2400-12-31';
alter table registrations add constraint registrations_published_on_bounds_check check (published_on is null or published_on between '1600-01-01' and '2400-12-31');
update registrations set registered_on = null where not registered_on between '1600-01-01' and '2400-12-31';
alter table registrations add constraint registrations_registered_on_bounds_check check (registered_on is null or registered_on between '1600-01-01' and '2400-12-31');
update shows set held_on = '1600-01-01' where not held_on between '1600-01-01' and '2400-12-31';
alter table shows add constraint shows_held_on_bounds_check check (held_on is null or held_on between '1600-01-01' and '2400-12-31');
update show_exhibitors set born_on = null where not born_on between '1600-01-01' and '2400-12-31';
alter table show_exhibitors add constraint show_exhibitors_born_on_bounds_check check (born_on is null or born_on between '1600-01-01' and '2400-12-31');
update member_results set held_on = '1600-01-01' where not held_on between '1600-01-01' and '2400-12-31';
alter table member_results add constraint member_results_held_on_bounds_check check (held_on is null or held_on between '1600-01-01' and '2400-12-31');
update trophy_awards set handed_over_on = null where not handed_over_on between '1600-01-01' and '2400-12-31';
alter table trophy_awards add constraint trophy_awards_handed_over_on_bounds_check check (handed_over_on is null or handed_over_on between '1600-01-01' and '2400-12-31');
update trophy_awards set due_back_on = null where not due_back_on between '1600-01-01' and '2400-12-31';
alter table trophy_awards add constraint trophy_awards_due_back_on_bounds_check check (due_back_on is null or due_back_on between '1600-01-01' and '2400-12-31');
update trophy_awards set returned_on = null where not returned_on between '1600-01-01' and '2400-12-31';
alter table trophy_awards add constraint trophy_awards_returned_on_bounds_check check (returned_on is null or returned_on between '1600-01-01' and '2400-12-31');
update swap_rounds set freezes_at = null where not freezes_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00';
alter table swap_rounds add constraint swap_rounds_freezes_at_bounds_check check (freezes_at is null or freezes_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00');
update swap_rounds set answer_by = null where not answer_by between '1600-01-01 00:00:00' and '2401-02-01 00:00:00';
alter table swap_rounds add constraint swap_rounds_answer_by_bounds_check check (answer_by is null or answer_by between '1600-01-01 00:00:00' and '2401-02-01 00:00:00');
update shows set closes_at = '1600-01-01 00:00:00' where not closes_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00';
alter table shows add constraint shows_closes_at_bounds_check check (closes_at is null or closes_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00');
update shows set opens_at = null where not opens_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00';
alter table shows add constraint shows_opens_at_bounds_check check (opens_at is null or opens_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00');
update shows set hall_opens_at = null where not hall_opens_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00';
alter table shows add constraint shows_hall_opens_at_bounds_check check (hall_opens_at is null or hall_opens_at between '1600-01-01 00:00:00' and '2401-02-01 00:00:00');
update show_entries set fee_pence = 100000000 where fee_pence > 100000000;
update show_entries set fee_pence = -100000000 where fee_pence < -100000000;
alter table show_entries add constraint show_entries_fee_pence_bounds_check check (fee_pence is null or fee_pence between -100000000 and 100000000);
update show_receipts set pence = 100000000 where pence > 100000000;
update show_receipts set pence = -100000000 where pence < -100000000;
alter table show_receipts add constraint show_receipts_pence_bounds_check check (pence is null or pence between -100000000 and 100000000);
update show_protests set deposit_pence = 100000000 where deposit_pence > 100000000;
update show_protests set deposit_pence = -100000000 where deposit_pence < -100000000;
alter table show_protests add constraint show_protests_deposit_pence_bounds_check check (deposit_pence is null or deposit_pence between -100000000 and 100000000);

-- Who else asked for a job that waited already: they see it as its first asker does.
create table job_askers (
    job_id text not null references jobs (id),
    member_id text not null references members (id),
    constraint job_askers_pkey primary key (job_id, member_id)
);
