CREATE FUNCTION ledger_ledger_kept_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF 1 = 1 THEN RAISE EXCEPTION '%', 'the ledger is never changed' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER ledger_ledger_kept_update BEFORE UPDATE ON ledger FOR EACH ROW EXECUTE FUNCTION ledger_ledger_kept_update()
;;
CREATE FUNCTION ledger_ledger_kept_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF 1 = 1 THEN RAISE EXCEPTION '%', 'the ledger is never changed' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER ledger_ledger_kept_delete BEFORE DELETE ON ledger FOR EACH ROW EXECUTE FUNCTION ledger_ledger_kept_delete()
;;
CREATE FUNCTION ledger_ledger_order_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.seq <> 1 + coalesce((SELECT max(l.seq) FROM ledger l WHERE l.operation_id = NEW.operation_id), 0) THEN RAISE EXCEPTION '%', 'the ledger has no gaps' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER ledger_ledger_order_insert BEFORE INSERT ON ledger FOR EACH ROW EXECUTE FUNCTION ledger_ledger_order_insert()
;;
CREATE FUNCTION ledger_ledger_rev_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id AND (l.rev >= NEW.rev OR l.kind <> NEW.kind)) THEN RAISE EXCEPTION '%', 'a newer or equal rev is already in the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER ledger_ledger_rev_insert BEFORE INSERT ON ledger FOR EACH ROW EXECUTE FUNCTION ledger_ledger_rev_insert()
;;
CREATE FUNCTION unit_unit_redrawn_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF ((OLD.x_m IS NOT NULL AND (NEW.x_m IS NULL OR NEW.x_m <> OLD.x_m)) OR (OLD.y_m IS NOT NULL AND (NEW.y_m IS NULL OR NEW.y_m <> OLD.y_m)) OR (OLD.width_m IS NOT NULL AND (NEW.width_m IS NULL OR NEW.width_m <> OLD.width_m)) OR (OLD.length_m IS NOT NULL AND (NEW.length_m IS NULL OR NEW.length_m <> OLD.length_m)) OR (OLD.level IS NOT NULL AND (NEW.level IS NULL OR NEW.level <> OLD.level)) OR (OLD.kind IS NOT NULL AND (NEW.kind IS NULL OR NEW.kind <> OLD.kind)) OR (OLD.house_id IS NOT NULL AND (NEW.house_id IS NULL OR NEW.house_id <> OLD.house_id))) AND (EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.unit_id = OLD.id) OR EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.unit_id = OLD.id)) THEN RAISE EXCEPTION '%', 'a unit is never redrawn: close it and open its successor' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_unit_redrawn_update BEFORE UPDATE ON unit FOR EACH ROW EXECUTE FUNCTION unit_unit_redrawn_update()
;;
CREATE FUNCTION unit_unit_succession_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on)) THEN RAISE EXCEPTION '%', 'a successor opens when its predecessor is closed' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_unit_succession_insert AFTER INSERT ON unit FOR EACH ROW EXECUTE FUNCTION unit_unit_succession_insert()
;;
CREATE FUNCTION unit_unit_succession_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on)) THEN RAISE EXCEPTION '%', 'a successor opens when its predecessor is closed' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_unit_succession_update AFTER UPDATE ON unit FOR EACH ROW EXECUTE FUNCTION unit_unit_succession_update()
;;
CREATE FUNCTION unit_unit_life_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND u.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on)) THEN RAISE EXCEPTION '%', 'the unit was walked on a day outside this life' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_unit_life_update AFTER UPDATE ON unit FOR EACH ROW EXECUTE FUNCTION unit_unit_life_update()
;;
CREATE FUNCTION walk_walk_life_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND w.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on)) THEN RAISE EXCEPTION '%', 'a unit of this walk did not live on that day' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER walk_walk_life_update AFTER UPDATE ON walk FOR EACH ROW EXECUTE FUNCTION walk_walk_life_update()
;;
CREATE FUNCTION visit_visit_life_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on)) THEN RAISE EXCEPTION '%', 'the unit did not live on the day of this walk' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_visit_life_insert AFTER INSERT ON visit FOR EACH ROW EXECUTE FUNCTION visit_visit_life_insert()
;;
CREATE FUNCTION visit_visit_life_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on)) THEN RAISE EXCEPTION '%', 'the unit did not live on the day of this walk' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_visit_life_update AFTER UPDATE ON visit FOR EACH ROW EXECUTE FUNCTION visit_visit_life_update()
;;
CREATE FUNCTION visit_visit_skipped_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.state = 'skipped' AND EXISTS (SELECT 1 FROM observation o WHERE o.operation_id = NEW.operation_id AND o.walk_id = NEW.walk_id AND o.unit_id = NEW.unit_id) THEN RAISE EXCEPTION '%', 'a unit with looks was not skipped' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_visit_skipped_update AFTER UPDATE ON visit FOR EACH ROW EXECUTE FUNCTION visit_visit_skipped_update()
;;
CREATE FUNCTION observation_observation_skipped_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped') THEN RAISE EXCEPTION '%', 'a skipped unit has no looks' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_skipped_insert AFTER INSERT ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_skipped_insert()
;;
CREATE FUNCTION observation_observation_skipped_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped') THEN RAISE EXCEPTION '%', 'a skipped unit has no looks' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_skipped_update AFTER UPDATE ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_skipped_update()
;;
CREATE FUNCTION observation_observation_planting_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id) THEN RAISE EXCEPTION '%', 'the planting is in another unit' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_planting_insert AFTER INSERT ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_planting_insert()
;;
CREATE FUNCTION observation_observation_planting_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id) THEN RAISE EXCEPTION '%', 'the planting is in another unit' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_planting_update AFTER UPDATE ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_planting_update()
;;
CREATE FUNCTION observation_observation_card_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at)) THEN RAISE EXCEPTION '%', 'the card hangs in another unit or did not hang then' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_card_insert AFTER INSERT ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_card_insert()
;;
CREATE FUNCTION observation_observation_card_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at)) THEN RAISE EXCEPTION '%', 'the card hangs in another unit or did not hang then' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_observation_card_update AFTER UPDATE ON observation FOR EACH ROW EXECUTE FUNCTION observation_observation_card_update()
;;
CREATE FUNCTION examined_examined_card_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable') THEN RAISE EXCEPTION '%', 'a card that could not be read has no counts' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_examined_card_insert BEFORE INSERT ON examined FOR EACH ROW EXECUTE FUNCTION examined_examined_card_insert()
;;
CREATE FUNCTION examined_examined_card_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable') THEN RAISE EXCEPTION '%', 'a card that could not be read has no counts' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_examined_card_update BEFORE UPDATE ON examined FOR EACH ROW EXECUTE FUNCTION examined_examined_card_update()
;;
CREATE FUNCTION examined_examined_method_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method)) THEN RAISE EXCEPTION '%', 'a look has a plant''s method, a reading that of its card' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_examined_method_insert BEFORE INSERT ON examined FOR EACH ROW EXECUTE FUNCTION examined_examined_method_insert()
;;
CREATE FUNCTION examined_examined_method_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method)) THEN RAISE EXCEPTION '%', 'a look has a plant''s method, a reading that of its card' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_examined_method_update BEFORE UPDATE ON examined FOR EACH ROW EXECUTE FUNCTION examined_examined_method_update()
;;
CREATE FUNCTION tally_tally_infested_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'more plants infested than inspected' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_tally_infested_insert BEFORE INSERT ON tally FOR EACH ROW EXECUTE FUNCTION tally_tally_infested_insert()
;;
CREATE FUNCTION tally_tally_infested_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'more plants infested than inspected' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_tally_infested_update BEFORE UPDATE ON tally FOR EACH ROW EXECUTE FUNCTION tally_tally_infested_update()
;;
CREATE FUNCTION tally_tally_full_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full' THEN RAISE EXCEPTION '%', 'a full card is counted as at least' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_tally_full_insert BEFORE INSERT ON tally FOR EACH ROW EXECUTE FUNCTION tally_tally_full_insert()
;;
CREATE FUNCTION tally_tally_full_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full' THEN RAISE EXCEPTION '%', 'a full card is counted as at least' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_tally_full_update BEFORE UPDATE ON tally FOR EACH ROW EXECUTE FUNCTION tally_tally_full_update()
;;
CREATE FUNCTION tally_tally_overlap_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM tally t JOIN stage a ON a.operation_id = t.operation_id AND a.code = t.stage JOIN stage b ON b.operation_id = t.operation_id AND b.code = NEW.stage WHERE t.operation_id = NEW.operation_id AND t.observation_id = NEW.observation_id AND t.method = NEW.method AND t.taxon = NEW.taxon AND t.stage <> NEW.stage AND (a.bits & b.bits) <> 0) THEN RAISE EXCEPTION '%', 'this stage overlaps one already tallied here' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_tally_overlap_insert BEFORE INSERT ON tally FOR EACH ROW EXECUTE FUNCTION tally_tally_overlap_insert()
;;
CREATE FUNCTION planting_planting_place_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit') THEN RAISE EXCEPTION '%', 'a place has no plantings' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_planting_place_insert AFTER INSERT ON planting FOR EACH ROW EXECUTE FUNCTION planting_planting_place_insert()
;;
CREATE FUNCTION planting_planting_place_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit') THEN RAISE EXCEPTION '%', 'a place has no plantings' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_planting_place_update AFTER UPDATE ON planting FOR EACH ROW EXECUTE FUNCTION planting_planting_place_update()
;;
CREATE FUNCTION planting_planting_stays_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.unit_id <> NEW.unit_id THEN RAISE EXCEPTION '%', 'plants change units by a movement' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_planting_stays_update BEFORE UPDATE ON planting FOR EACH ROW EXECUTE FUNCTION planting_planting_stays_update()
;;
CREATE FUNCTION phase_phase_area_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on))) THEN RAISE EXCEPTION '%', 'plantings share more than 100 % of the unit' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER phase_phase_area_insert AFTER INSERT ON phase FOR EACH ROW EXECUTE FUNCTION phase_phase_area_insert()
;;
CREATE FUNCTION phase_phase_area_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on))) THEN RAISE EXCEPTION '%', 'plantings share more than 100 % of the unit' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER phase_phase_area_update AFTER UPDATE ON phase FOR EACH ROW EXECUTE FUNCTION phase_phase_area_update()
;;
CREATE FUNCTION phase_phase_area_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = OLD.operation_id AND me.id = OLD.planting_id AND d.from_on >= OLD.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on))) THEN RAISE EXCEPTION '%', 'plantings share more than 100 % of the unit' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER phase_phase_area_delete AFTER DELETE ON phase FOR EACH ROW EXECUTE FUNCTION phase_phase_area_delete()
;;
CREATE FUNCTION movement_movement_short_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.from_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = NEW.from_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = NEW.from_id AND i.moved_on <= o.moved_on)) THEN RAISE EXCEPTION '%', 'more plants leave than are there' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER movement_movement_short_insert AFTER INSERT ON movement FOR EACH ROW EXECUTE FUNCTION movement_movement_short_insert()
;;
CREATE FUNCTION movement_movement_short_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.from_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = NEW.from_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = NEW.from_id AND i.moved_on <= o.moved_on)) OR EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.to_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = NEW.to_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = NEW.to_id AND i.moved_on <= o.moved_on)) OR EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = OLD.from_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = OLD.from_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = OLD.from_id AND i.moved_on <= o.moved_on)) OR EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = OLD.to_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = OLD.to_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = OLD.to_id AND i.moved_on <= o.moved_on)) THEN RAISE EXCEPTION '%', 'more plants leave than are there' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER movement_movement_short_update AFTER UPDATE ON movement FOR EACH ROW EXECUTE FUNCTION movement_movement_short_update()
;;
CREATE FUNCTION movement_movement_short_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = OLD.operation_id AND o.from_id = OLD.to_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.to_id = OLD.to_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.from_id = OLD.to_id AND i.moved_on <= o.moved_on)) THEN RAISE EXCEPTION '%', 'more plants leave than are there' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER movement_movement_short_delete AFTER DELETE ON movement FOR EACH ROW EXECUTE FUNCTION movement_movement_short_delete()
;;
CREATE FUNCTION air_space_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER air_space_newest_insert AFTER INSERT ON air_space FOR EACH ROW EXECUTE FUNCTION air_space_newest_insert()
;;
CREATE FUNCTION air_space_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER air_space_newest_update AFTER UPDATE ON air_space FOR EACH ROW EXECUTE FUNCTION air_space_newest_update()
;;
CREATE FUNCTION air_space_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER air_space_forward_update BEFORE UPDATE ON air_space FOR EACH ROW EXECUTE FUNCTION air_space_forward_update()
;;
CREATE FUNCTION air_space_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER air_space_void_delete BEFORE DELETE ON air_space FOR EACH ROW EXECUTE FUNCTION air_space_void_delete()
;;
CREATE FUNCTION crop_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER crop_newest_insert AFTER INSERT ON crop FOR EACH ROW EXECUTE FUNCTION crop_newest_insert()
;;
CREATE FUNCTION crop_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER crop_newest_update AFTER UPDATE ON crop FOR EACH ROW EXECUTE FUNCTION crop_newest_update()
;;
CREATE FUNCTION crop_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER crop_forward_update BEFORE UPDATE ON crop FOR EACH ROW EXECUTE FUNCTION crop_forward_update()
;;
CREATE FUNCTION crop_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER crop_void_delete BEFORE DELETE ON crop FOR EACH ROW EXECUTE FUNCTION crop_void_delete()
;;
CREATE FUNCTION method_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER method_newest_insert AFTER INSERT ON method FOR EACH ROW EXECUTE FUNCTION method_newest_insert()
;;
CREATE FUNCTION method_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER method_newest_update AFTER UPDATE ON method FOR EACH ROW EXECUTE FUNCTION method_newest_update()
;;
CREATE FUNCTION method_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER method_forward_update BEFORE UPDATE ON method FOR EACH ROW EXECUTE FUNCTION method_forward_update()
;;
CREATE FUNCTION method_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER method_void_delete BEFORE DELETE ON method FOR EACH ROW EXECUTE FUNCTION method_void_delete()
;;
CREATE FUNCTION stage_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER stage_newest_insert AFTER INSERT ON stage FOR EACH ROW EXECUTE FUNCTION stage_newest_insert()
;;
CREATE FUNCTION stage_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER stage_newest_update AFTER UPDATE ON stage FOR EACH ROW EXECUTE FUNCTION stage_newest_update()
;;
CREATE FUNCTION stage_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER stage_forward_update BEFORE UPDATE ON stage FOR EACH ROW EXECUTE FUNCTION stage_forward_update()
;;
CREATE FUNCTION stage_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER stage_void_delete BEFORE DELETE ON stage FOR EACH ROW EXECUTE FUNCTION stage_void_delete()
;;
CREATE FUNCTION taxon_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER taxon_newest_insert AFTER INSERT ON taxon FOR EACH ROW EXECUTE FUNCTION taxon_newest_insert()
;;
CREATE FUNCTION taxon_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER taxon_newest_update AFTER UPDATE ON taxon FOR EACH ROW EXECUTE FUNCTION taxon_newest_update()
;;
CREATE FUNCTION taxon_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER taxon_forward_update BEFORE UPDATE ON taxon FOR EACH ROW EXECUTE FUNCTION taxon_forward_update()
;;
CREATE FUNCTION taxon_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER taxon_void_delete BEFORE DELETE ON taxon FOR EACH ROW EXECUTE FUNCTION taxon_void_delete()
;;
CREATE FUNCTION walk_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER walk_newest_insert AFTER INSERT ON walk FOR EACH ROW EXECUTE FUNCTION walk_newest_insert()
;;
CREATE FUNCTION walk_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER walk_newest_update AFTER UPDATE ON walk FOR EACH ROW EXECUTE FUNCTION walk_newest_update()
;;
CREATE FUNCTION walk_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER walk_forward_update BEFORE UPDATE ON walk FOR EACH ROW EXECUTE FUNCTION walk_forward_update()
;;
CREATE FUNCTION walk_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER walk_void_delete BEFORE DELETE ON walk FOR EACH ROW EXECUTE FUNCTION walk_void_delete()
;;
CREATE FUNCTION application_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER application_newest_insert AFTER INSERT ON application FOR EACH ROW EXECUTE FUNCTION application_newest_insert()
;;
CREATE FUNCTION application_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER application_newest_update AFTER UPDATE ON application FOR EACH ROW EXECUTE FUNCTION application_newest_update()
;;
CREATE FUNCTION application_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER application_forward_update BEFORE UPDATE ON application FOR EACH ROW EXECUTE FUNCTION application_forward_update()
;;
CREATE FUNCTION application_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER application_void_delete BEFORE DELETE ON application FOR EACH ROW EXECUTE FUNCTION application_void_delete()
;;
CREATE FUNCTION house_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER house_newest_insert AFTER INSERT ON house FOR EACH ROW EXECUTE FUNCTION house_newest_insert()
;;
CREATE FUNCTION house_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER house_newest_update AFTER UPDATE ON house FOR EACH ROW EXECUTE FUNCTION house_newest_update()
;;
CREATE FUNCTION house_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER house_forward_update BEFORE UPDATE ON house FOR EACH ROW EXECUTE FUNCTION house_forward_update()
;;
CREATE FUNCTION house_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER house_void_delete BEFORE DELETE ON house FOR EACH ROW EXECUTE FUNCTION house_void_delete()
;;
CREATE FUNCTION threshold_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER threshold_newest_insert AFTER INSERT ON threshold FOR EACH ROW EXECUTE FUNCTION threshold_newest_insert()
;;
CREATE FUNCTION threshold_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER threshold_newest_update AFTER UPDATE ON threshold FOR EACH ROW EXECUTE FUNCTION threshold_newest_update()
;;
CREATE FUNCTION threshold_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER threshold_forward_update BEFORE UPDATE ON threshold FOR EACH ROW EXECUTE FUNCTION threshold_forward_update()
;;
CREATE FUNCTION threshold_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER threshold_void_delete BEFORE DELETE ON threshold FOR EACH ROW EXECUTE FUNCTION threshold_void_delete()
;;
CREATE FUNCTION fixture_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER fixture_newest_insert AFTER INSERT ON fixture FOR EACH ROW EXECUTE FUNCTION fixture_newest_insert()
;;
CREATE FUNCTION fixture_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER fixture_newest_update AFTER UPDATE ON fixture FOR EACH ROW EXECUTE FUNCTION fixture_newest_update()
;;
CREATE FUNCTION fixture_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER fixture_forward_update BEFORE UPDATE ON fixture FOR EACH ROW EXECUTE FUNCTION fixture_forward_update()
;;
CREATE FUNCTION fixture_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER fixture_void_delete BEFORE DELETE ON fixture FOR EACH ROW EXECUTE FUNCTION fixture_void_delete()
;;
CREATE FUNCTION load_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER load_with_owner_insert BEFORE INSERT ON load FOR EACH ROW EXECUTE FUNCTION load_with_owner_insert()
;;
CREATE FUNCTION load_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER load_with_owner_update BEFORE UPDATE ON load FOR EACH ROW EXECUTE FUNCTION load_with_owner_update()
;;
CREATE FUNCTION load_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER load_forward_update BEFORE UPDATE ON load FOR EACH ROW EXECUTE FUNCTION load_forward_update()
;;
CREATE FUNCTION load_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER load_superseded_delete BEFORE DELETE ON load FOR EACH ROW EXECUTE FUNCTION load_superseded_delete()
;;
CREATE FUNCTION unit_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_newest_insert AFTER INSERT ON unit FOR EACH ROW EXECUTE FUNCTION unit_newest_insert()
;;
CREATE FUNCTION unit_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_newest_update AFTER UPDATE ON unit FOR EACH ROW EXECUTE FUNCTION unit_newest_update()
;;
CREATE FUNCTION unit_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER unit_forward_update BEFORE UPDATE ON unit FOR EACH ROW EXECUTE FUNCTION unit_forward_update()
;;
CREATE FUNCTION unit_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER unit_void_delete BEFORE DELETE ON unit FOR EACH ROW EXECUTE FUNCTION unit_void_delete()
;;
CREATE FUNCTION flag_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER flag_newest_insert AFTER INSERT ON flag FOR EACH ROW EXECUTE FUNCTION flag_newest_insert()
;;
CREATE FUNCTION flag_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER flag_newest_update AFTER UPDATE ON flag FOR EACH ROW EXECUTE FUNCTION flag_newest_update()
;;
CREATE FUNCTION flag_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER flag_forward_update BEFORE UPDATE ON flag FOR EACH ROW EXECUTE FUNCTION flag_forward_update()
;;
CREATE FUNCTION flag_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER flag_void_delete BEFORE DELETE ON flag FOR EACH ROW EXECUTE FUNCTION flag_void_delete()
;;
CREATE FUNCTION identification_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER identification_newest_insert AFTER INSERT ON identification FOR EACH ROW EXECUTE FUNCTION identification_newest_insert()
;;
CREATE FUNCTION identification_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER identification_newest_update AFTER UPDATE ON identification FOR EACH ROW EXECUTE FUNCTION identification_newest_update()
;;
CREATE FUNCTION identification_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER identification_forward_update BEFORE UPDATE ON identification FOR EACH ROW EXECUTE FUNCTION identification_forward_update()
;;
CREATE FUNCTION identification_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER identification_void_delete BEFORE DELETE ON identification FOR EACH ROW EXECUTE FUNCTION identification_void_delete()
;;
CREATE FUNCTION planting_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_newest_insert AFTER INSERT ON planting FOR EACH ROW EXECUTE FUNCTION planting_newest_insert()
;;
CREATE FUNCTION planting_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_newest_update AFTER UPDATE ON planting FOR EACH ROW EXECUTE FUNCTION planting_newest_update()
;;
CREATE FUNCTION planting_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER planting_forward_update BEFORE UPDATE ON planting FOR EACH ROW EXECUTE FUNCTION planting_forward_update()
;;
CREATE FUNCTION planting_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER planting_void_delete BEFORE DELETE ON planting FOR EACH ROW EXECUTE FUNCTION planting_void_delete()
;;
CREATE FUNCTION route_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER route_with_owner_insert BEFORE INSERT ON route FOR EACH ROW EXECUTE FUNCTION route_with_owner_insert()
;;
CREATE FUNCTION route_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER route_with_owner_update BEFORE UPDATE ON route FOR EACH ROW EXECUTE FUNCTION route_with_owner_update()
;;
CREATE FUNCTION route_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER route_forward_update BEFORE UPDATE ON route FOR EACH ROW EXECUTE FUNCTION route_forward_update()
;;
CREATE FUNCTION route_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.walk_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER route_superseded_delete BEFORE DELETE ON route FOR EACH ROW EXECUTE FUNCTION route_superseded_delete()
;;
CREATE FUNCTION sighting_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER sighting_newest_insert AFTER INSERT ON sighting FOR EACH ROW EXECUTE FUNCTION sighting_newest_insert()
;;
CREATE FUNCTION sighting_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER sighting_newest_update AFTER UPDATE ON sighting FOR EACH ROW EXECUTE FUNCTION sighting_newest_update()
;;
CREATE FUNCTION sighting_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER sighting_forward_update BEFORE UPDATE ON sighting FOR EACH ROW EXECUTE FUNCTION sighting_forward_update()
;;
CREATE FUNCTION sighting_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER sighting_void_delete BEFORE DELETE ON sighting FOR EACH ROW EXECUTE FUNCTION sighting_void_delete()
;;
CREATE FUNCTION station_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER station_newest_insert AFTER INSERT ON station FOR EACH ROW EXECUTE FUNCTION station_newest_insert()
;;
CREATE FUNCTION station_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER station_newest_update AFTER UPDATE ON station FOR EACH ROW EXECUTE FUNCTION station_newest_update()
;;
CREATE FUNCTION station_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER station_forward_update BEFORE UPDATE ON station FOR EACH ROW EXECUTE FUNCTION station_forward_update()
;;
CREATE FUNCTION station_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER station_void_delete BEFORE DELETE ON station FOR EACH ROW EXECUTE FUNCTION station_void_delete()
;;
CREATE FUNCTION target_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER target_newest_insert AFTER INSERT ON target FOR EACH ROW EXECUTE FUNCTION target_newest_insert()
;;
CREATE FUNCTION target_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER target_newest_update AFTER UPDATE ON target FOR EACH ROW EXECUTE FUNCTION target_newest_update()
;;
CREATE FUNCTION target_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER target_forward_update BEFORE UPDATE ON target FOR EACH ROW EXECUTE FUNCTION target_forward_update()
;;
CREATE FUNCTION target_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER target_void_delete BEFORE DELETE ON target FOR EACH ROW EXECUTE FUNCTION target_void_delete()
;;
CREATE FUNCTION treated_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER treated_with_owner_insert BEFORE INSERT ON treated FOR EACH ROW EXECUTE FUNCTION treated_with_owner_insert()
;;
CREATE FUNCTION treated_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER treated_with_owner_update BEFORE UPDATE ON treated FOR EACH ROW EXECUTE FUNCTION treated_with_owner_update()
;;
CREATE FUNCTION treated_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER treated_forward_update BEFORE UPDATE ON treated FOR EACH ROW EXECUTE FUNCTION treated_forward_update()
;;
CREATE FUNCTION treated_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER treated_superseded_delete BEFORE DELETE ON treated FOR EACH ROW EXECUTE FUNCTION treated_superseded_delete()
;;
CREATE FUNCTION visit_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_newest_insert AFTER INSERT ON visit FOR EACH ROW EXECUTE FUNCTION visit_newest_insert()
;;
CREATE FUNCTION visit_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_newest_update AFTER UPDATE ON visit FOR EACH ROW EXECUTE FUNCTION visit_newest_update()
;;
CREATE FUNCTION visit_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER visit_forward_update BEFORE UPDATE ON visit FOR EACH ROW EXECUTE FUNCTION visit_forward_update()
;;
CREATE FUNCTION visit_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER visit_void_delete BEFORE DELETE ON visit FOR EACH ROW EXECUTE FUNCTION visit_void_delete()
;;
CREATE FUNCTION card_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER card_newest_insert AFTER INSERT ON card FOR EACH ROW EXECUTE FUNCTION card_newest_insert()
;;
CREATE FUNCTION card_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER card_newest_update AFTER UPDATE ON card FOR EACH ROW EXECUTE FUNCTION card_newest_update()
;;
CREATE FUNCTION card_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER card_forward_update BEFORE UPDATE ON card FOR EACH ROW EXECUTE FUNCTION card_forward_update()
;;
CREATE FUNCTION card_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER card_void_delete BEFORE DELETE ON card FOR EACH ROW EXECUTE FUNCTION card_void_delete()
;;
CREATE FUNCTION climate_log_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_log_newest_insert AFTER INSERT ON climate_log FOR EACH ROW EXECUTE FUNCTION climate_log_newest_insert()
;;
CREATE FUNCTION climate_log_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_log_newest_update AFTER UPDATE ON climate_log FOR EACH ROW EXECUTE FUNCTION climate_log_newest_update()
;;
CREATE FUNCTION climate_log_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_log_forward_update BEFORE UPDATE ON climate_log FOR EACH ROW EXECUTE FUNCTION climate_log_forward_update()
;;
CREATE FUNCTION climate_log_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER climate_log_void_delete BEFORE DELETE ON climate_log FOR EACH ROW EXECUTE FUNCTION climate_log_void_delete()
;;
CREATE FUNCTION movement_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER movement_newest_insert AFTER INSERT ON movement FOR EACH ROW EXECUTE FUNCTION movement_newest_insert()
;;
CREATE FUNCTION movement_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER movement_newest_update AFTER UPDATE ON movement FOR EACH ROW EXECUTE FUNCTION movement_newest_update()
;;
CREATE FUNCTION movement_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER movement_forward_update BEFORE UPDATE ON movement FOR EACH ROW EXECUTE FUNCTION movement_forward_update()
;;
CREATE FUNCTION movement_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER movement_void_delete BEFORE DELETE ON movement FOR EACH ROW EXECUTE FUNCTION movement_void_delete()
;;
CREATE FUNCTION phase_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER phase_with_owner_insert BEFORE INSERT ON phase FOR EACH ROW EXECUTE FUNCTION phase_with_owner_insert()
;;
CREATE FUNCTION phase_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER phase_with_owner_update BEFORE UPDATE ON phase FOR EACH ROW EXECUTE FUNCTION phase_with_owner_update()
;;
CREATE FUNCTION phase_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER phase_forward_update BEFORE UPDATE ON phase FOR EACH ROW EXECUTE FUNCTION phase_forward_update()
;;
CREATE FUNCTION phase_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.planting_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER phase_superseded_delete BEFORE DELETE ON phase FOR EACH ROW EXECUTE FUNCTION phase_superseded_delete()
;;
CREATE FUNCTION climate_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_with_owner_insert BEFORE INSERT ON climate FOR EACH ROW EXECUTE FUNCTION climate_with_owner_insert()
;;
CREATE FUNCTION climate_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_with_owner_update BEFORE UPDATE ON climate FOR EACH ROW EXECUTE FUNCTION climate_with_owner_update()
;;
CREATE FUNCTION climate_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER climate_forward_update BEFORE UPDATE ON climate FOR EACH ROW EXECUTE FUNCTION climate_forward_update()
;;
CREATE FUNCTION climate_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.log_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER climate_superseded_delete BEFORE DELETE ON climate FOR EACH ROW EXECUTE FUNCTION climate_superseded_delete()
;;
CREATE FUNCTION observation_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_newest_insert AFTER INSERT ON observation FOR EACH ROW EXECUTE FUNCTION observation_newest_insert()
;;
CREATE FUNCTION observation_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_newest_update AFTER UPDATE ON observation FOR EACH ROW EXECUTE FUNCTION observation_newest_update()
;;
CREATE FUNCTION observation_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER observation_forward_update BEFORE UPDATE ON observation FOR EACH ROW EXECUTE FUNCTION observation_forward_update()
;;
CREATE FUNCTION observation_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER observation_void_delete BEFORE DELETE ON observation FOR EACH ROW EXECUTE FUNCTION observation_void_delete()
;;
CREATE FUNCTION examined_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_with_owner_insert BEFORE INSERT ON examined FOR EACH ROW EXECUTE FUNCTION examined_with_owner_insert()
;;
CREATE FUNCTION examined_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_with_owner_update BEFORE UPDATE ON examined FOR EACH ROW EXECUTE FUNCTION examined_with_owner_update()
;;
CREATE FUNCTION examined_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER examined_forward_update BEFORE UPDATE ON examined FOR EACH ROW EXECUTE FUNCTION examined_forward_update()
;;
CREATE FUNCTION examined_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER examined_superseded_delete BEFORE DELETE ON examined FOR EACH ROW EXECUTE FUNCTION examined_superseded_delete()
;;
CREATE FUNCTION tally_with_owner_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_with_owner_insert BEFORE INSERT ON tally FOR EACH ROW EXECUTE FUNCTION tally_with_owner_insert()
;;
CREATE FUNCTION tally_with_owner_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) THEN RAISE EXCEPTION '%', 'a line has the rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_with_owner_update BEFORE UPDATE ON tally FOR EACH ROW EXECUTE FUNCTION tally_with_owner_update()
;;
CREATE FUNCTION tally_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF NEW.rev <= OLD.rev THEN RAISE EXCEPTION '%', 'a line changes only with its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$
;;
CREATE TRIGGER tally_forward_update BEFORE UPDATE ON tally FOR EACH ROW EXECUTE FUNCTION tally_forward_update()
;;
CREATE FUNCTION tally_superseded_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
IF OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id) THEN RAISE EXCEPTION '%', 'a line goes only with a newer rev of its record' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$
;;
CREATE TRIGGER tally_superseded_delete BEFORE DELETE ON tally FOR EACH ROW EXECUTE FUNCTION tally_superseded_delete()
;;
ALTER TABLE device ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON device USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE person ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON person USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE aside ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON aside USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE ledger ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON ledger USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE air_space ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON air_space USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE crop ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON crop USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE method ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON method USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE stage ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON stage USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE taxon ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON taxon USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE walk ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON walk USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE application ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON application USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE house ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON house USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE threshold ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON threshold USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE fixture ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON fixture USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE load ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON load USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE unit ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON unit USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE flag ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON flag USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE identification ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON identification USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE planting ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON planting USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE route ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON route USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE sighting ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON sighting USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE station ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON station USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE target ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON target USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE treated ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON treated USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE visit ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON visit USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE card ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON card USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE climate_log ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON climate_log USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE movement ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON movement USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE phase ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON phase USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE climate ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON climate USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE observation ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON observation USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE examined ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON examined USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
ALTER TABLE tally ENABLE ROW LEVEL SECURITY
;;
CREATE POLICY own ON tally USING (operation_id = current_setting('benchwalk.operation')::smallint)
;;
CREATE FUNCTION ledger_kept_truncate() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'the ledger is never changed'; END $$
;;
CREATE TRIGGER ledger_kept_truncate BEFORE TRUNCATE ON ledger EXECUTE FUNCTION ledger_kept_truncate()