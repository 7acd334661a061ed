CREATE TRIGGER ledger_ledger_kept_update BEFORE UPDATE ON ledger WHEN 1 = 1
BEGIN SELECT RAISE(ABORT, 'the ledger is never changed'); END
;;
CREATE TRIGGER ledger_ledger_kept_delete BEFORE DELETE ON ledger WHEN 1 = 1
BEGIN SELECT RAISE(ABORT, 'the ledger is never changed'); END
;;
CREATE TRIGGER ledger_ledger_order_insert BEFORE INSERT ON ledger WHEN NEW.seq <> 1 + coalesce((SELECT max(l.seq) FROM ledger l WHERE l.operation_id = NEW.operation_id), 0)
BEGIN SELECT RAISE(ABORT, 'the ledger has no gaps'); END
;;
CREATE TRIGGER ledger_ledger_rev_insert BEFORE INSERT ON ledger WHEN EXISTS (SELECT 1 FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id AND (l.rev >= NEW.rev OR l.kind <> NEW.kind))
BEGIN SELECT RAISE(ABORT, 'a newer or equal rev is already in the ledger'); END
;;
CREATE TRIGGER unit_unit_redrawn_update BEFORE UPDATE ON unit WHEN ((OLD.x_m IS NOT NULL AND (NEW.x_m IS NULL OR NEW.x_m <> OLD.x_m)) OR (OLD.y_m IS NOT NULL AND (NEW.y_m IS NULL OR NEW.y_m <> OLD.y_m)) OR (OLD.width_m IS NOT NULL AND (NEW.width_m IS NULL OR NEW.width_m <> OLD.width_m)) OR (OLD.length_m IS NOT NULL AND (NEW.length_m IS NULL OR NEW.length_m <> OLD.length_m)) OR (OLD.level IS NOT NULL AND (NEW.level IS NULL OR NEW.level <> OLD.level)) OR (OLD.kind IS NOT NULL AND (NEW.kind IS NULL OR NEW.kind <> OLD.kind)) OR (OLD.house_id IS NOT NULL AND (NEW.house_id IS NULL OR NEW.house_id <> OLD.house_id))) AND (EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.unit_id = OLD.id) OR EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.unit_id = OLD.id))
BEGIN SELECT RAISE(ABORT, 'a unit is never redrawn: close it and open its successor'); END
;;
CREATE TRIGGER unit_unit_succession_insert AFTER INSERT ON unit WHEN EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on))
BEGIN SELECT RAISE(ABORT, 'a successor opens when its predecessor is closed'); END
;;
CREATE TRIGGER unit_unit_succession_update AFTER UPDATE ON unit WHEN EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on))
BEGIN SELECT RAISE(ABORT, 'a successor opens when its predecessor is closed'); END
;;
CREATE TRIGGER unit_unit_life_update AFTER UPDATE ON unit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND u.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit was walked on a day outside this life'); END
;;
CREATE TRIGGER walk_walk_life_update AFTER UPDATE ON walk WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND w.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'a unit of this walk did not live on that day'); END
;;
CREATE TRIGGER visit_visit_life_insert AFTER INSERT ON visit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit did not live on the day of this walk'); END
;;
CREATE TRIGGER visit_visit_life_update AFTER UPDATE ON visit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit did not live on the day of this walk'); END
;;
CREATE TRIGGER visit_visit_skipped_update AFTER UPDATE ON visit WHEN NEW.state = 'skipped' AND EXISTS (SELECT 1 FROM observation o WHERE o.operation_id = NEW.operation_id AND o.walk_id = NEW.walk_id AND o.unit_id = NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'a unit with looks was not skipped'); END
;;
CREATE TRIGGER observation_observation_skipped_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped')
BEGIN SELECT RAISE(ABORT, 'a skipped unit has no looks'); END
;;
CREATE TRIGGER observation_observation_skipped_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped')
BEGIN SELECT RAISE(ABORT, 'a skipped unit has no looks'); END
;;
CREATE TRIGGER observation_observation_planting_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'the planting is in another unit'); END
;;
CREATE TRIGGER observation_observation_planting_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'the planting is in another unit'); END
;;
CREATE TRIGGER observation_observation_card_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at))
BEGIN SELECT RAISE(ABORT, 'the card hangs in another unit or did not hang then'); END
;;
CREATE TRIGGER observation_observation_card_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at))
BEGIN SELECT RAISE(ABORT, 'the card hangs in another unit or did not hang then'); END
;;
CREATE TRIGGER examined_examined_card_insert BEFORE INSERT ON examined WHEN (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable')
BEGIN SELECT RAISE(ABORT, 'a card that could not be read has no counts'); END
;;
CREATE TRIGGER examined_examined_card_update BEFORE UPDATE ON examined WHEN (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable')
BEGIN SELECT RAISE(ABORT, 'a card that could not be read has no counts'); END
;;
CREATE TRIGGER examined_examined_method_insert BEFORE INSERT ON examined WHEN EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method))
BEGIN SELECT RAISE(ABORT, 'a look has a plant''s method, a reading that of its card'); END
;;
CREATE TRIGGER examined_examined_method_update BEFORE UPDATE ON examined WHEN EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method))
BEGIN SELECT RAISE(ABORT, 'a look has a plant''s method, a reading that of its card'); END
;;
CREATE TRIGGER tally_tally_infested_insert BEFORE INSERT ON tally WHEN NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'more plants infested than inspected'); END
;;
CREATE TRIGGER tally_tally_infested_update BEFORE UPDATE ON tally WHEN NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'more plants infested than inspected'); END
;;
CREATE TRIGGER tally_tally_full_insert BEFORE INSERT ON tally WHEN NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full'
BEGIN SELECT RAISE(ABORT, 'a full card is counted as at least'); END
;;
CREATE TRIGGER tally_tally_full_update BEFORE UPDATE ON tally WHEN NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full'
BEGIN SELECT RAISE(ABORT, 'a full card is counted as at least'); END
;;
CREATE TRIGGER tally_tally_overlap_insert BEFORE INSERT ON tally WHEN EXISTS (SELECT 1 FROM tally t JOIN stage a ON a.operation_id = t.operation_id AND a.code = t.stage JOIN stage b ON b.operation_id = t.operation_id AND b.code = NEW.stage WHERE t.operation_id = NEW.operation_id AND t.observation_id = NEW.observation_id AND t.method = NEW.method AND t.taxon = NEW.taxon AND t.stage <> NEW.stage AND (a.bits & b.bits) <> 0)
BEGIN SELECT RAISE(ABORT, 'this stage overlaps one already tallied here'); END
;;
CREATE TRIGGER planting_planting_place_insert AFTER INSERT ON planting WHEN EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit')
BEGIN SELECT RAISE(ABORT, 'a place has no plantings'); END
;;
CREATE TRIGGER planting_planting_place_update AFTER UPDATE ON planting WHEN EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit')
BEGIN SELECT RAISE(ABORT, 'a place has no plantings'); END
;;
CREATE TRIGGER planting_planting_stays_update BEFORE UPDATE ON planting WHEN OLD.unit_id <> NEW.unit_id
BEGIN SELECT RAISE(ABORT, 'plants change units by a movement'); END
;;
CREATE TRIGGER phase_phase_area_insert AFTER INSERT ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END
;;
CREATE TRIGGER phase_phase_area_update AFTER UPDATE ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END
;;
CREATE TRIGGER phase_phase_area_delete AFTER DELETE ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = OLD.operation_id AND me.id = OLD.planting_id AND d.from_on >= OLD.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END
;;
CREATE TRIGGER movement_movement_short_insert AFTER INSERT ON movement WHEN EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.from_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = NEW.from_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = NEW.from_id AND i.moved_on <= o.moved_on))
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END
;;
CREATE TRIGGER movement_movement_short_update AFTER UPDATE ON movement WHEN EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.from_id AND
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
  WHERE i.operation_id = NEW.operation_id AND i.from_id = OLD.to_id AND i.moved_on <= o.moved_on))
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END
;;
CREATE TRIGGER movement_movement_short_delete AFTER DELETE ON movement WHEN EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = OLD.operation_id AND o.from_id = OLD.to_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.to_id = OLD.to_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.from_id = OLD.to_id AND i.moved_on <= o.moved_on))
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END
;;
CREATE TRIGGER air_space_newest_insert AFTER INSERT ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER air_space_newest_update AFTER UPDATE ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER air_space_forward_update BEFORE UPDATE ON air_space WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER air_space_void_delete BEFORE DELETE ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER crop_newest_insert AFTER INSERT ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER crop_newest_update AFTER UPDATE ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER crop_forward_update BEFORE UPDATE ON crop WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER crop_void_delete BEFORE DELETE ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER method_newest_insert AFTER INSERT ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER method_newest_update AFTER UPDATE ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER method_forward_update BEFORE UPDATE ON method WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER method_void_delete BEFORE DELETE ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER stage_newest_insert AFTER INSERT ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER stage_newest_update AFTER UPDATE ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER stage_forward_update BEFORE UPDATE ON stage WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER stage_void_delete BEFORE DELETE ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER taxon_newest_insert AFTER INSERT ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER taxon_newest_update AFTER UPDATE ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER taxon_forward_update BEFORE UPDATE ON taxon WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER taxon_void_delete BEFORE DELETE ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER walk_newest_insert AFTER INSERT ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER walk_newest_update AFTER UPDATE ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER walk_forward_update BEFORE UPDATE ON walk WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER walk_void_delete BEFORE DELETE ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER application_newest_insert AFTER INSERT ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER application_newest_update AFTER UPDATE ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER application_forward_update BEFORE UPDATE ON application WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER application_void_delete BEFORE DELETE ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER house_newest_insert AFTER INSERT ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER house_newest_update AFTER UPDATE ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER house_forward_update BEFORE UPDATE ON house WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER house_void_delete BEFORE DELETE ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER threshold_newest_insert AFTER INSERT ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER threshold_newest_update AFTER UPDATE ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER threshold_forward_update BEFORE UPDATE ON threshold WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER threshold_void_delete BEFORE DELETE ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER fixture_newest_insert AFTER INSERT ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER fixture_newest_update AFTER UPDATE ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER fixture_forward_update BEFORE UPDATE ON fixture WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER fixture_void_delete BEFORE DELETE ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER load_with_owner_insert BEFORE INSERT ON load WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER load_with_owner_update BEFORE UPDATE ON load WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER load_forward_update BEFORE UPDATE ON load WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER load_superseded_delete BEFORE DELETE ON load WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER unit_newest_insert AFTER INSERT ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER unit_newest_update AFTER UPDATE ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER unit_forward_update BEFORE UPDATE ON unit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER unit_void_delete BEFORE DELETE ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER flag_newest_insert AFTER INSERT ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER flag_newest_update AFTER UPDATE ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER flag_forward_update BEFORE UPDATE ON flag WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER flag_void_delete BEFORE DELETE ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER identification_newest_insert AFTER INSERT ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER identification_newest_update AFTER UPDATE ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER identification_forward_update BEFORE UPDATE ON identification WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER identification_void_delete BEFORE DELETE ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER planting_newest_insert AFTER INSERT ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER planting_newest_update AFTER UPDATE ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER planting_forward_update BEFORE UPDATE ON planting WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER planting_void_delete BEFORE DELETE ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER route_with_owner_insert BEFORE INSERT ON route WHEN NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER route_with_owner_update BEFORE UPDATE ON route WHEN NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER route_forward_update BEFORE UPDATE ON route WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER route_superseded_delete BEFORE DELETE ON route WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER sighting_newest_insert AFTER INSERT ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER sighting_newest_update AFTER UPDATE ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER sighting_forward_update BEFORE UPDATE ON sighting WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER sighting_void_delete BEFORE DELETE ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER station_newest_insert AFTER INSERT ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER station_newest_update AFTER UPDATE ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER station_forward_update BEFORE UPDATE ON station WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER station_void_delete BEFORE DELETE ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER target_newest_insert AFTER INSERT ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER target_newest_update AFTER UPDATE ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER target_forward_update BEFORE UPDATE ON target WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER target_void_delete BEFORE DELETE ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER treated_with_owner_insert BEFORE INSERT ON treated WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER treated_with_owner_update BEFORE UPDATE ON treated WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER treated_forward_update BEFORE UPDATE ON treated WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER treated_superseded_delete BEFORE DELETE ON treated WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER visit_newest_insert AFTER INSERT ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER visit_newest_update AFTER UPDATE ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER visit_forward_update BEFORE UPDATE ON visit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER visit_void_delete BEFORE DELETE ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER card_newest_insert AFTER INSERT ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER card_newest_update AFTER UPDATE ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER card_forward_update BEFORE UPDATE ON card WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER card_void_delete BEFORE DELETE ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER climate_log_newest_insert AFTER INSERT ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER climate_log_newest_update AFTER UPDATE ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER climate_log_forward_update BEFORE UPDATE ON climate_log WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER climate_log_void_delete BEFORE DELETE ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER movement_newest_insert AFTER INSERT ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER movement_newest_update AFTER UPDATE ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER movement_forward_update BEFORE UPDATE ON movement WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER movement_void_delete BEFORE DELETE ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER phase_with_owner_insert BEFORE INSERT ON phase WHEN NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER phase_with_owner_update BEFORE UPDATE ON phase WHEN NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER phase_forward_update BEFORE UPDATE ON phase WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER phase_superseded_delete BEFORE DELETE ON phase WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER climate_with_owner_insert BEFORE INSERT ON climate WHEN NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER climate_with_owner_update BEFORE UPDATE ON climate WHEN NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER climate_forward_update BEFORE UPDATE ON climate WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER climate_superseded_delete BEFORE DELETE ON climate WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.log_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER observation_newest_insert AFTER INSERT ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER observation_newest_update AFTER UPDATE ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END
;;
CREATE TRIGGER observation_forward_update BEFORE UPDATE ON observation WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END
;;
CREATE TRIGGER observation_void_delete BEFORE DELETE ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END
;;
CREATE TRIGGER examined_with_owner_insert BEFORE INSERT ON examined WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER examined_with_owner_update BEFORE UPDATE ON examined WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER examined_forward_update BEFORE UPDATE ON examined WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER examined_superseded_delete BEFORE DELETE ON examined WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END
;;
CREATE TRIGGER tally_with_owner_insert BEFORE INSERT ON tally WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER tally_with_owner_update BEFORE UPDATE ON tally WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END
;;
CREATE TRIGGER tally_forward_update BEFORE UPDATE ON tally WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END
;;
CREATE TRIGGER tally_superseded_delete BEFORE DELETE ON tally WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END