drop table swap_hand_overs;
drop table swap_rings;
drop table swap_rounds;
drop table swap_wants;
drop table swap_offers;
