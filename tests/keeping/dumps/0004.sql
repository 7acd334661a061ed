BEGIN TRANSACTION;
CREATE TABLE account_event (
	operation_id SMALLINT NOT NULL, 
	n INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	kind VARCHAR(24) NOT NULL, 
	person_id BLOB, 
	by_id BLOB, 
	device_id BLOB, 
	source TEXT, 
	detail JSON, 
	CONSTRAINT pk_account_event PRIMARY KEY (operation_id, n), 
	CONSTRAINT fk_account_event_operation_id_by_id FOREIGN KEY(operation_id, by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_account_event_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_account_event_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_account_event_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE air_space (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	name TEXT NOT NULL, 
	CONSTRAINT pk_air_space PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_air_space_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_air_space_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_air_space_operation_id_name UNIQUE (operation_id, name)
);
INSERT INTO "air_space" VALUES(1,X'01A21588242C7054AEDDE4012CC1DD2C',1,'A');
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE application (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	kind TEXT NOT NULL, 
	what TEXT NOT NULL, 
	active TEXT, 
	moa_group TEXT, 
	effect TEXT, 
	taxon VARCHAR(48), 
	applicator_id BLOB, 
	note TEXT, 
	CONSTRAINT pk_application PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_application_kind CHECK (kind IN ('spray', 'drench', 'fog', 'release', 'wash', 'rogue', 'weed', 'clean')), 
	CONSTRAINT fk_application_operation_id_applicator_id FOREIGN KEY(operation_id, applicator_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_application_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_application_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_application_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE aside (
	operation_id SMALLINT NOT NULL, 
	n INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	id BLOB, 
	rev INTEGER, 
	device_id BLOB, 
	received_at DATETIME NOT NULL, 
	reason TEXT NOT NULL, 
	body TEXT NOT NULL, 
	settled_at DATETIME, 
	settled_by_id BLOB, settled_how VARCHAR(16), 
	CONSTRAINT pk_aside PRIMARY KEY (operation_id, n), 
	CONSTRAINT fk_aside_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_aside_operation_id_settled_by_id FOREIGN KEY(operation_id, settled_by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_aside_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE canary (
	operation_id SMALLINT NOT NULL, 
	said_at DATETIME NOT NULL, 
	CONSTRAINT pk_canary PRIMARY KEY (operation_id), 
	CONSTRAINT fk_canary_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE card (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	station_id BLOB NOT NULL, 
	method VARCHAR(48) NOT NULL, 
	hung_at DATETIME, 
	taken_at DATETIME, 
	CONSTRAINT pk_card PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_card_hung CHECK (taken_at IS NOT NULL OR hung_at IS NOT NULL), 
	CONSTRAINT ck_card_days CHECK (taken_at IS NULL OR hung_at IS NULL OR taken_at > hung_at), 
	CONSTRAINT fk_card_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_card_operation_id_method FOREIGN KEY(operation_id, method) REFERENCES method (operation_id, code), 
	CONSTRAINT fk_card_operation_id_station_id FOREIGN KEY(operation_id, station_id) REFERENCES station (operation_id, id), 
	CONSTRAINT fk_card_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "card" VALUES(1,X'01A215882592792D8E859635765F4572',1,X'01A215882581765D820B2FC34B3FF4D7','yellow_card','2026-03-01 08:00:00.000000',NULL);
CREATE TABLE climate (
	operation_id SMALLINT NOT NULL, 
	station_id BLOB NOT NULL, 
	at DATETIME NOT NULL, 
	log_id BLOB NOT NULL, 
	span_s INTEGER NOT NULL, 
	temp_c FLOAT, 
	temp_min_c FLOAT, 
	temp_max_c FLOAT, 
	rh_percent FLOAT, 
	implausible BOOLEAN NOT NULL, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_climate PRIMARY KEY (operation_id, station_id, at), 
	CONSTRAINT ck_climate_rh CHECK (rh_percent BETWEEN 0 AND 100), 
	CONSTRAINT fk_climate_operation_id_log_id FOREIGN KEY(operation_id, log_id) REFERENCES climate_log (operation_id, id), 
	CONSTRAINT fk_climate_operation_id_station_id FOREIGN KEY(operation_id, station_id) REFERENCES station (operation_id, id), 
	CONSTRAINT fk_climate_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
CREATE TABLE climate_log (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	station_id BLOB NOT NULL, 
	source TEXT NOT NULL, 
	CONSTRAINT pk_climate_log PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_climate_log_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_climate_log_operation_id_station_id FOREIGN KEY(operation_id, station_id) REFERENCES station (operation_id, id), 
	CONSTRAINT fk_climate_log_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE credential (
	operation_id SMALLINT NOT NULL, 
	person_id BLOB NOT NULL, 
	sign_in_name TEXT NOT NULL, 
	passphrase TEXT, 
	pin TEXT, 
	changed_at DATETIME NOT NULL, 
	CONSTRAINT pk_credential PRIMARY KEY (operation_id, person_id), 
	CONSTRAINT fk_credential_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_credential_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_credential_operation_id_sign_in_name UNIQUE (operation_id, sign_in_name)
);
CREATE TABLE crop (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	parent VARCHAR(48), 
	edible BOOLEAN, 
	phases JSON NOT NULL, 
	code VARCHAR(48) NOT NULL, 
	names JSON NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_crop PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_crop_parent CHECK (parent IS NULL OR parent <> code), 
	CONSTRAINT fk_crop_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_crop_operation_id_parent FOREIGN KEY(operation_id, parent) REFERENCES crop (operation_id, code), 
	CONSTRAINT fk_crop_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_crop_operation_id_code UNIQUE (operation_id, code)
);
INSERT INTO "crop" VALUES(1,X'01A21588255974FB9333CFEAC76A0CA9',1,NULL,NULL,'{}','any_crop','{}',NULL);
INSERT INTO "crop" VALUES(1,X'01A21588256A767C91841AE511BA80DF',1,'any_crop',NULL,'{}','pansy','{}',NULL);
CREATE TABLE device (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	label TEXT NOT NULL, 
	last_heard_at DATETIME, 
	unsent INTEGER, 
	revoked_at DATETIME, app_version VARCHAR(24), clock_error_s FLOAT, 
	CONSTRAINT pk_device PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_device_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE device_token (
	operation_id SMALLINT NOT NULL, 
	digest BLOB NOT NULL, 
	device_id BLOB NOT NULL, 
	scope VARCHAR(8) NOT NULL, 
	made_at DATETIME NOT NULL, 
	made_by_id BLOB, 
	last_used_at DATETIME, 
	revoked_at DATETIME, 
	CONSTRAINT pk_device_token PRIMARY KEY (operation_id, digest), 
	CONSTRAINT fk_device_token_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_device_token_operation_id_made_by_id FOREIGN KEY(operation_id, made_by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_device_token_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE examined (
	operation_id SMALLINT NOT NULL, 
	observation_id BLOB NOT NULL, 
	method VARCHAR(48) NOT NULL, 
	items SMALLINT, 
	of_items SMALLINT, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_examined PRIMARY KEY (operation_id, observation_id, method), 
	CONSTRAINT ck_examined_items CHECK (items > 0 AND (of_items IS NULL OR items <= of_items)), 
	CONSTRAINT fk_examined_operation_id_method FOREIGN KEY(operation_id, method) REFERENCES method (operation_id, code), 
	CONSTRAINT fk_examined_operation_id_observation_id FOREIGN KEY(operation_id, observation_id) REFERENCES observation (operation_id, id), 
	CONSTRAINT fk_examined_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
INSERT INTO "examined" VALUES(1,X'01A2158826067022882E59E1AD336D3D','leaf_count',3,NULL,2);
CREATE TABLE fixture (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	house_id BLOB NOT NULL, 
	kind TEXT NOT NULL, 
	level SMALLINT NOT NULL, 
	name TEXT, 
	x_m FLOAT NOT NULL, 
	y_m FLOAT NOT NULL, 
	width_m FLOAT NOT NULL, 
	length_m FLOAT NOT NULL, 
	CONSTRAINT pk_fixture PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_fixture_kind CHECK (kind IN ('bench', 'gutter', 'floor', 'door', 'vent', 'drain', 'heater', 'post')), 
	CONSTRAINT ck_fixture_size CHECK (width_m > 0 AND length_m > 0), 
	CONSTRAINT fk_fixture_operation_id_house_id FOREIGN KEY(operation_id, house_id) REFERENCES house (operation_id, id), 
	CONSTRAINT fk_fixture_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_fixture_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE flag (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	unit_id BLOB NOT NULL, 
	colour TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	position TEXT, 
	CONSTRAINT pk_flag PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_flag_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_flag_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_flag_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE house (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	air_space_id BLOB NOT NULL, 
	name TEXT NOT NULL, 
	width_m FLOAT, 
	length_m FLOAT, 
	height_m FLOAT, 
	CONSTRAINT pk_house PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_house_size CHECK ((width_m IS NULL) = (length_m IS NULL) AND (width_m IS NULL OR (width_m > 0 AND length_m > 0))), 
	CONSTRAINT fk_house_operation_id_air_space_id FOREIGN KEY(operation_id, air_space_id) REFERENCES air_space (operation_id, id), 
	CONSTRAINT fk_house_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_house_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_house_operation_id_name UNIQUE (operation_id, name)
);
INSERT INTO "house" VALUES(1,X'01A21588247276A2B1F6FA5E80C6273F',1,X'01A21588242C7054AEDDE4012CC1DD2C','H',10.0,30.0,NULL);
CREATE TABLE identification (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	was VARCHAR(48) NOT NULL, 
	taxon VARCHAR(48) NOT NULL, 
	air_space_id BLOB, 
	unit_id BLOB, 
	from_on DATE NOT NULL, 
	until_on DATE, 
	by_id BLOB NOT NULL, 
	confidence TEXT NOT NULL, 
	CONSTRAINT pk_identification PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_identification_confidence CHECK (confidence IN ('sure', 'likely', 'guess')), 
	CONSTRAINT ck_identification_days CHECK (until_on IS NULL OR until_on > from_on), 
	CONSTRAINT ck_identification_changes CHECK (was <> taxon), 
	CONSTRAINT fk_identification_operation_id_air_space_id FOREIGN KEY(operation_id, air_space_id) REFERENCES air_space (operation_id, id), 
	CONSTRAINT fk_identification_operation_id_by_id FOREIGN KEY(operation_id, by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_identification_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_identification_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_identification_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_identification_operation_id_was FOREIGN KEY(operation_id, was) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_identification_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE known_browser (
	operation_id SMALLINT NOT NULL, 
	digest BLOB NOT NULL, 
	person_id BLOB NOT NULL, 
	last_used_at DATETIME NOT NULL, 
	CONSTRAINT pk_known_browser PRIMARY KEY (operation_id, digest), 
	CONSTRAINT fk_known_browser_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_known_browser_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE ledger (
	operation_id SMALLINT NOT NULL, 
	seq INTEGER NOT NULL, 
	epoch SMALLINT NOT NULL, 
	kind VARCHAR(24) NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	void_reason TEXT, 
	by_id BLOB, 
	typed_by_id BLOB, 
	device_id BLOB, 
	seen_at DATETIME NOT NULL, 
	clock_offset_s FLOAT, 
	received_at DATETIME NOT NULL, 
	body TEXT NOT NULL, 
	digest BLOB NOT NULL, 
	CONSTRAINT pk_ledger PRIMARY KEY (operation_id, seq), 
	CONSTRAINT ck_ledger_rev CHECK (rev >= 1), 
	CONSTRAINT fk_ledger_operation_id_by_id FOREIGN KEY(operation_id, by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_ledger_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_ledger_operation_id_typed_by_id FOREIGN KEY(operation_id, typed_by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_ledger_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_ledger_operation_id_id_rev UNIQUE (operation_id, id, rev)
);
INSERT INTO "ledger" VALUES(1,1,1,'air_space',X'01A21588242C7054AEDDE4012CC1DD2C',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.413222',NULL,'2026-11-26 01:46:13.413222','{"id":"01a21588-242c-7054-aedd-e4012cc1dd2c","name":"A"}',X'1D9CCA71DC7BE65617D7A458954CA60DD1513137F9B4AC0324F48532BE6E8F32');
INSERT INTO "ledger" VALUES(1,2,1,'house',X'01A21588247276A2B1F6FA5E80C6273F',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.490313',NULL,'2026-11-26 01:46:13.490313','{"air_space_id":"01a21588-242c-7054-aedd-e4012cc1dd2c","id":"01a21588-2472-76a2-b1f6-fa5e80c6273f","length_m":30,"name":"H","width_m":10}',X'BAAEA37650028DB7AE65CF729418D5EC0ECD32E05FC47225B8071821F9FD2FBB');
INSERT INTO "ledger" VALUES(1,3,1,'unit',X'01A215882486706FB425CD787FB6FD81',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.510410',NULL,'2026-11-26 01:46:13.510410','{"former_names":{},"house_id":"01a21588-2472-76a2-b1f6-fa5e80c6273f","id":"01a21588-2486-706f-b425-cd787fb6fd81","kind":"unit","length_m":20,"level":0,"name":"U1","opened_on":"2026-01-01","width_m":2,"x_m":0,"y_m":0}',X'B857E4EBA824488FD7AE5FA3ED0D05039AEB86DC84341498FC08A5392D65BC83');
INSERT INTO "ledger" VALUES(1,4,1,'unit',X'01A2158824997548AAECCEE575345240',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.528633',NULL,'2026-11-26 01:46:13.528633','{"former_names":{},"house_id":"01a21588-2472-76a2-b1f6-fa5e80c6273f","id":"01a21588-2499-7548-aaec-cee575345240","kind":"unit","length_m":20,"level":0,"name":"U2","opened_on":"2026-01-01","width_m":2,"x_m":0,"y_m":0}',X'A77BE5C00E63267031309EB97A522B156E7381270F5103AEFCB46D2EC56E3065');
INSERT INTO "ledger" VALUES(1,5,1,'stage',X'01A2158824A9732F8C3EFC3E0B8D75CB',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.545084',NULL,'2026-11-26 01:46:13.545084','{"bits":1,"code":"egg","id":"01a21588-24a9-732f-8c3e-fc3e0b8d75cb","names":{}}',X'8B2DFBDA1D6CB17E182D12AFED55943B6AF9C7958E73C15E573CA0D68F7F1859');
INSERT INTO "ledger" VALUES(1,6,1,'stage',X'01A2158824C17C61AB2C78A9B818B4EE',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.568882',NULL,'2026-11-26 01:46:13.568882','{"bits":2,"code":"larva","id":"01a21588-24c1-7c61-ab2c-78a9b818b4ee","names":{}}',X'D9C098FADF2367A5E2E92698653D867952E246E51586E54C2FAD70DFE8B01027');
INSERT INTO "ledger" VALUES(1,7,1,'stage',X'01A2158824CC79C2A72ED44528A84A82',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.578356',NULL,'2026-11-26 01:46:13.578356','{"bits":4,"code":"adult","id":"01a21588-24cc-79c2-a72e-d44528a84a82","names":{}}',X'D7D85C8EA42E59F48E456138937330078998B05CBD638297E3EC0B5C57D75CCC');
INSERT INTO "ledger" VALUES(1,8,1,'stage',X'01A2158824ED7E32AB15C51EEF603E34',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.612980',NULL,'2026-11-26 01:46:13.612980','{"bits":6,"code":"motile","id":"01a21588-24ed-7e32-ab15-c51eef603e34","names":{}}',X'5FC3B7F153655C976A34E41F018700C5E84C94C384B5A2815C43D15F1257632B');
INSERT INTO "ledger" VALUES(1,9,1,'taxon',X'01A21588250E74538203D72D1BD57B82',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.646578',NULL,'2026-11-26 01:46:13.646578','{"code":"thrips","id":"01a21588-250e-7453-8203-d72d1bd57b82","kind":"pest","names":{},"regulated":false}',X'C752B0F8F714E41AA5374FF6D46C8389D282D603C2CFF60C02412B20DA8AC31A');
INSERT INTO "ledger" VALUES(1,10,1,'taxon',X'01A21588251E73DB9E291E7E8F74F913',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.662531',NULL,'2026-11-26 01:46:13.662531','{"code":"western_flower_thrips","id":"01a21588-251e-73db-9e29-1e7e8f74f913","kind":"pest","names":{},"parent":"thrips","regulated":false}',X'B5920306259C17F6C2492D93F4D576F15C32308D8D28741F3CB47BB477C2AAE1');
INSERT INTO "ledger" VALUES(1,11,1,'method',X'01A2158825267B04BD85DF8DAFB9FFC1',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.670453',NULL,'2026-11-26 01:46:13.670453','{"code":"leaf_count","id":"01a21588-2526-7b04-bd85-df8dafb9ffc1","item":"leaf","kind":"plant","names":{},"part":"leaf"}',X'3E94118AC2161B36D458A071699C379D7B927187340CCAD27F375A6712B3D620');
INSERT INTO "ledger" VALUES(1,12,1,'method',X'01A215882536707DB7A1B44A32831B21',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.686471',NULL,'2026-11-26 01:46:13.686471','{"code":"root_inspection","id":"01a21588-2536-707d-b7a1-b44a32831b21","item":"plant","kind":"plant","names":{},"part":"root"}',X'1A244A2E2A8DDCC795B31E26472F3FDDAB74E82B25201DAD5A685152F78552D2');
INSERT INTO "ledger" VALUES(1,13,1,'method',X'01A21588254579AC88B7E7E2B4B150F8',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.701082',NULL,'2026-11-26 01:46:13.701082','{"area_cm2":500,"code":"yellow_card","id":"01a21588-2545-79ac-88b7-e7e2b4b150f8","item":"square","kind":"card","names":{},"squares":40}',X'D438861F23C29B6B93EE4DC00FB37A3A561FF7D7950B0838E56816DEECEA1DBC');
INSERT INTO "ledger" VALUES(1,14,1,'crop',X'01A21588255974FB9333CFEAC76A0CA9',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.720751',NULL,'2026-11-26 01:46:13.720751','{"code":"any_crop","id":"01a21588-2559-74fb-9333-cfeac76a0ca9","names":{},"phases":{}}',X'2CE33C60DA1B2C4792DCA76AFAF1501F6A672A028FE3E11CE233455033B22F74');
INSERT INTO "ledger" VALUES(1,15,1,'crop',X'01A21588256A767C91841AE511BA80DF',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.737747',NULL,'2026-11-26 01:46:13.737747','{"code":"pansy","id":"01a21588-256a-767c-9184-1ae511ba80df","names":{},"parent":"any_crop","phases":{}}',X'C627B1A70C3071F2188F63A2B309AB7815707563E254211A785E12187DB6109A');
INSERT INTO "ledger" VALUES(1,16,1,'station',X'01A215882581765D820B2FC34B3FF4D7',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.760958',NULL,'2026-11-26 01:46:13.760958','{"code":"S1","id":"01a21588-2581-765d-820b-2fc34b3ff4d7","kind":"card","opened_on":"2026-01-01","role":"interior","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81"}',X'E00980412283DEF9E00DF313A90C23E7D1D128CD328DEE9328220EB3F675A9EC');
INSERT INTO "ledger" VALUES(1,17,1,'card',X'01A215882592792D8E859635765F4572',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.777661',NULL,'2026-11-26 01:46:13.777661','{"hung_at":"2026-03-01 08:00:00+00:00","id":"01a21588-2592-792d-8e85-9635765f4572","method":"yellow_card","station_id":"01a21588-2581-765d-820b-2fc34b3ff4d7"}',X'85877AD863A9586553D28829F8E7BD853D70EC4AC28B33385EE49957AD6AF9F0');
INSERT INTO "ledger" VALUES(1,18,1,'walk',X'01A2158825B278CEA58CED410CAC019F',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.810532',NULL,'2026-11-26 01:46:13.810532','{"id":"01a21588-25b2-78ce-a58c-ed410cac019f","route":[{"depth":"full","place":1,"unit_id":"01a21588-2486-706f-b425-cd787fb6fd81"}],"scout_id":"01a21588-2413-7b5b-ab32-7aed42690881","walk_on":"2026-03-10"}',X'B90E4782C7D1812BC5D1261985954F79060A065CBED36563A3AFBB9ED1C60127');
INSERT INTO "ledger" VALUES(1,19,1,'visit',X'01A2158825D37CA584627B3DDEE60DD1',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.842816',NULL,'2026-11-26 01:46:13.842816','{"fast":false,"id":"01a21588-25d3-7ca5-8462-7b3ddee60dd1","state":"done","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81","walk_id":"01a21588-25b2-78ce-a58c-ed410cac019f"}',X'89F7B5CB8E6AB787B26C1BDE7D428278F231812C16BAC46DF92AD4BDE3323D81');
INSERT INTO "ledger" VALUES(1,20,1,'observation',X'01A2158826067022882E59E1AD336D3D',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.877288',NULL,'2026-11-26 01:46:13.877288','{"examined":[{"items":3,"method":"leaf_count","tallies":[{"how":"counted","number":3,"stage":"adult","taxon":"western_flower_thrips"}]}],"id":"01a21588-2606-7022-882e-59e1ad336d3d","kind":"look","plants":1,"seen_at":"2026-03-10 09:00:00+00:00","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81","walk_id":"01a21588-25b2-78ce-a58c-ed410cac019f","why":"sample","why_assumed":false}',X'7EB81BC14FC8D67F5133C4900AAB9FFF84DC79B538680FD859038F8A45042E59');
INSERT INTO "ledger" VALUES(1,21,1,'observation',X'01A2158826067022882E59E1AD336D3D',2,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:13.962663',NULL,'2026-11-26 01:46:13.962663','{"examined":[{"items":3,"method":"leaf_count","observation_id":"01a21588-2606-7022-882e-59e1ad336d3d","tallies":[{"how":"counted","method":"leaf_count","number":4,"observation_id":"01a21588-2606-7022-882e-59e1ad336d3d","stage":"adult","taxon":"western_flower_thrips"}]}],"id":"01a21588-2606-7022-882e-59e1ad336d3d","kind":"look","plants":1,"seen_at":"2026-03-10 09:00:00+00:00","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81","walk_id":"01a21588-25b2-78ce-a58c-ed410cac019f","why":"sample","why_assumed":false}',X'2FDD74BA11817FC32B39F4CC1C2E7527108E167E921E1F1C10354A40C0F40FD5');
INSERT INTO "ledger" VALUES(1,22,1,'planting',X'01A21588268673EE90EDADCE12A270E0',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:14.022331',NULL,'2026-11-26 01:46:14.022331','{"crop":"pansy","id":"01a21588-2686-73ee-90ed-adce12a270e0","provisional":false,"unit_id":"01a21588-2499-7548-aaec-cee575345240"}',X'A8759BEFDCF747BA6518193CD93F216358D3636DB59CCDDA79061854C43ACFF8');
INSERT INTO "ledger" VALUES(1,23,1,'observation',X'01A2158826A77C22A3FFB16DEB1D5410',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:14.054835',NULL,'2026-11-26 01:46:14.054835','{"examined":[{"items":3,"method":"leaf_count","tallies":[{"how":"counted","number":3,"stage":"adult","taxon":"western_flower_thrips"}]}],"id":"01a21588-26a7-7c22-a3ff-b16deb1d5410","kind":"look","plants":1,"seen_at":"2026-03-10 09:00:00+00:00","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81","walk_id":"01a21588-25b2-78ce-a58c-ed410cac019f","why":"sample","why_assumed":false}',X'94D43D8AB432AE16D4D65C92184A593E4590C867CF3474494B368DD1A2262149');
INSERT INTO "ledger" VALUES(1,24,1,'observation',X'01A2158826A77C22A3FFB16DEB1D5410',2,'voided',X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:14.098214',NULL,'2026-11-26 01:46:14.098214','{"examined":[{"items":3,"method":"leaf_count","observation_id":"01a21588-26a7-7c22-a3ff-b16deb1d5410","tallies":[{"how":"counted","method":"leaf_count","number":3,"observation_id":"01a21588-26a7-7c22-a3ff-b16deb1d5410","stage":"adult","taxon":"western_flower_thrips"}]}],"id":"01a21588-26a7-7c22-a3ff-b16deb1d5410","kind":"look","plants":1,"seen_at":"2026-03-10 09:00:00+00:00","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81","walk_id":"01a21588-25b2-78ce-a58c-ed410cac019f","why":"sample","why_assumed":false}',X'EC9A93E6CB818C7AB0ADABC1D7529111191752C4D5A45223DE8B251209BDF2AD');
INSERT INTO "ledger" VALUES(1,25,1,'sighting',X'01A2158826E774A2BCF674CC41042EF6',1,NULL,X'01A2158824137B5BAB327AED42690881',NULL,NULL,'2026-11-26 01:46:14.118800',NULL,'2026-11-26 01:46:14.118800','{"cause":"not_known","id":"01a21588-26e7-74a2-bcf6-74cc41042ef6","seen_at":"2026-03-10 09:00:00+00:00","unit_id":"01a21588-2486-706f-b425-cd787fb6fd81"}',X'E012003E945386D1D3A28D150A9523524A70DE3177B7D852CB1848705CACECE3');
CREATE TABLE link (
	operation_id SMALLINT NOT NULL, 
	digest BLOB NOT NULL, 
	typed BLOB, 
	purpose VARCHAR(8) NOT NULL, 
	person_id BLOB, 
	made_by_id BLOB, 
	made_at DATETIME NOT NULL, 
	ends_at DATETIME NOT NULL, 
	used_at DATETIME, 
	CONSTRAINT pk_link PRIMARY KEY (operation_id, digest), 
	CONSTRAINT ck_link_purpose CHECK (purpose IN ('set_up', 'choose', 'enter', 'pair', 'calendar')), 
	CONSTRAINT fk_link_operation_id_made_by_id FOREIGN KEY(operation_id, made_by_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_link_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_link_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_link_operation_id_typed UNIQUE (operation_id, typed)
);
CREATE TABLE load (
	operation_id SMALLINT NOT NULL, 
	application_id BLOB NOT NULL, 
	n SMALLINT NOT NULL, 
	started_at DATETIME NOT NULL, 
	ended_at DATETIME, 
	precision TEXT NOT NULL, 
	water_ml INTEGER, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_load PRIMARY KEY (operation_id, application_id, n), 
	CONSTRAINT ck_load_precision CHECK (precision IN ('minute', 'day')), 
	CONSTRAINT ck_load_times CHECK (ended_at IS NULL OR ended_at >= started_at), 
	CONSTRAINT fk_load_operation_id_application_id FOREIGN KEY(operation_id, application_id) REFERENCES application (operation_id, id), 
	CONSTRAINT fk_load_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
CREATE TABLE method (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	kind TEXT NOT NULL, 
	part TEXT, 
	item TEXT NOT NULL, 
	colour TEXT, 
	area_cm2 FLOAT, 
	squares INTEGER, 
	void_after_h INTEGER, 
	code VARCHAR(48) NOT NULL, 
	names JSON NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_method PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_method_part CHECK ((kind = 'plant') = (part IS NOT NULL)), 
	CONSTRAINT ck_method_kind CHECK (kind IN ('plant', 'card', 'disc', 'trap', 'place')), 
	CONSTRAINT ck_method_card CHECK (area_cm2 > 0 AND squares > 0), 
	CONSTRAINT fk_method_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_method_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_method_operation_id_code UNIQUE (operation_id, code)
);
INSERT INTO "method" VALUES(1,X'01A2158825267B04BD85DF8DAFB9FFC1',1,'plant','leaf','leaf',NULL,NULL,NULL,NULL,'leaf_count','{}',NULL);
INSERT INTO "method" VALUES(1,X'01A215882536707DB7A1B44A32831B21',1,'plant','root','plant',NULL,NULL,NULL,NULL,'root_inspection','{}',NULL);
INSERT INTO "method" VALUES(1,X'01A21588254579AC88B7E7E2B4B150F8',1,'card',NULL,'square',NULL,500.0,40,NULL,'yellow_card','{}',NULL);
CREATE TABLE movement (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	kind TEXT NOT NULL, 
	moved_on DATE NOT NULL, 
	from_id BLOB, 
	to_id BLOB, 
	plants INTEGER NOT NULL, 
	cause TEXT, 
	CONSTRAINT pk_movement PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_movement_ends CHECK ((kind = 'receive' AND from_id IS NULL AND to_id IS NOT NULL) OR (kind IN ('ship', 'dump', 'rogue') AND from_id IS NOT NULL AND to_id IS NULL) OR (kind IN ('move', 'split', 'merge') AND from_id IS NOT NULL AND to_id IS NOT NULL AND from_id <> to_id) OR (kind = 'space' AND from_id IS NOT NULL AND to_id IS NOT NULL AND from_id = to_id)), 
	CONSTRAINT ck_movement_plants CHECK (plants > 0), 
	CONSTRAINT fk_movement_operation_id_from_id FOREIGN KEY(operation_id, from_id) REFERENCES planting (operation_id, id), 
	CONSTRAINT fk_movement_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_movement_operation_id_to_id FOREIGN KEY(operation_id, to_id) REFERENCES planting (operation_id, id), 
	CONSTRAINT fk_movement_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE observation (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	walk_id BLOB NOT NULL, 
	unit_id BLOB NOT NULL, 
	seen_at DATETIME NOT NULL, 
	why VARCHAR(9) NOT NULL, 
	why_assumed BOOLEAN NOT NULL, 
	plants SMALLINT, 
	planting_id BLOB, 
	position TEXT, 
	station_id BLOB, 
	card_id BLOB, 
	since VARCHAR(6), 
	counted VARCHAR(4), 
	state VARCHAR(10), 
	flag_id BLOB, 
	flag_mark VARCHAR(9), 
	note TEXT, 
	CONSTRAINT pk_observation PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_observation_counted CHECK (counted IN ('all', 'new')), 
	CONSTRAINT ck_observation_flag_mark CHECK (flag_mark IN ('set', 'confirmed', 'cleared')), 
	CONSTRAINT ck_observation_look CHECK (kind <> 'look' OR (coalesce(plants, 1) > 0 AND card_id IS NULL AND state IS NULL AND since IS NULL AND counted IS NULL)), 
	CONSTRAINT ck_observation_reading CHECK (kind <> 'reading' OR (coalesce(plants, -1) = 0 AND card_id IS NOT NULL AND state IS NOT NULL AND planting_id IS NULL AND (state IN ('missing', 'fallen', 'unreadable')) = (since IS NULL) AND (since IS NULL) = (counted IS NULL) AND NOT (since = 'last' AND counted = 'all'))), 
	CONSTRAINT ck_observation_kind CHECK (kind IN ('look', 'reading')), 
	CONSTRAINT ck_observation_since CHECK (since IN ('hung', 'last')), 
	CONSTRAINT ck_observation_state CHECK (state IN ('ok', 'wet', 'full', 'missing', 'fallen', 'unreadable')), 
	CONSTRAINT ck_observation_why CHECK (why IN ('sample', 'flagged', 'edge', 'indicator', 'recheck', 'search')), 
	CONSTRAINT ck_observation_flag CHECK ((flag_id IS NULL) = (flag_mark IS NULL)), 
	CONSTRAINT fk_observation_operation_id_card_id FOREIGN KEY(operation_id, card_id) REFERENCES card (operation_id, id), 
	CONSTRAINT fk_observation_operation_id_flag_id FOREIGN KEY(operation_id, flag_id) REFERENCES flag (operation_id, id), 
	CONSTRAINT fk_observation_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_observation_operation_id_planting_id FOREIGN KEY(operation_id, planting_id) REFERENCES planting (operation_id, id), 
	CONSTRAINT fk_observation_operation_id_station_id FOREIGN KEY(operation_id, station_id) REFERENCES station (operation_id, id), 
	CONSTRAINT fk_observation_operation_id_walk_id_unit_id FOREIGN KEY(operation_id, walk_id, unit_id) REFERENCES visit (operation_id, walk_id, unit_id), 
	CONSTRAINT fk_observation_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "observation" VALUES(1,X'01A2158826067022882E59E1AD336D3D',2,'look',X'01A2158825B278CEA58CED410CAC019F',X'01A215882486706FB425CD787FB6FD81','2026-03-10 09:00:00.000000','sample',0,1,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE operation (
	id SMALLINT NOT NULL, 
	uid BLOB NOT NULL, 
	name TEXT NOT NULL, 
	zone TEXT NOT NULL, 
	epoch INTEGER NOT NULL, 
	practice BOOLEAN NOT NULL, 
	CONSTRAINT pk_operation PRIMARY KEY (id), 
	CONSTRAINT uq_operation_uid UNIQUE (uid)
);
INSERT INTO "operation" VALUES(1,X'BBE412B19CBC4A57BD0284717DA8CB07','o1','America/New_York',1,0);
CREATE TABLE person (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	pseudonym TEXT NOT NULL, 
	name TEXT, 
	role TEXT NOT NULL, 
	CONSTRAINT pk_person PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_person_role CHECK (role IN ('scout', 'applicator', 'grower', 'manager', 'advisor')), 
	CONSTRAINT fk_person_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_person_operation_id_pseudonym UNIQUE (operation_id, pseudonym)
);
INSERT INTO "person" VALUES(1,X'01A2158824137B5BAB327AED42690881','scout 1','A','scout');
CREATE TABLE phase (
	operation_id SMALLINT NOT NULL, 
	planting_id BLOB NOT NULL, 
	from_on DATE NOT NULL, 
	phase VARCHAR(32) NOT NULL, 
	area_percent SMALLINT, 
	plants_per_m2 FLOAT, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_phase PRIMARY KEY (operation_id, planting_id, from_on), 
	CONSTRAINT ck_phase_gone CHECK ((phase = 'gone') = (coalesce(area_percent, 100) = 0)), 
	CONSTRAINT ck_phase_area CHECK (area_percent BETWEEN 0 AND 100), 
	CONSTRAINT ck_phase_density CHECK (plants_per_m2 > 0), 
	CONSTRAINT fk_phase_operation_id_planting_id FOREIGN KEY(operation_id, planting_id) REFERENCES planting (operation_id, id), 
	CONSTRAINT fk_phase_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
CREATE TABLE planting (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	unit_id BLOB NOT NULL, 
	crop VARCHAR(48) NOT NULL, 
	cultivar TEXT, 
	provisional BOOLEAN NOT NULL, 
	CONSTRAINT pk_planting PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_planting_operation_id_crop FOREIGN KEY(operation_id, crop) REFERENCES crop (operation_id, code), 
	CONSTRAINT fk_planting_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_planting_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_planting_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "planting" VALUES(1,X'01A21588268673EE90EDADCE12A270E0',1,X'01A2158824997548AAECCEE575345240','pansy',NULL,0);
CREATE TABLE refit (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	fitted_on DATE NOT NULL, 
	until_seq INTEGER NOT NULL, 
	series INTEGER NOT NULL, 
	counts INTEGER NOT NULL, 
	numbers JSON NOT NULL, 
	CONSTRAINT pk_refit PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_refit_learned CHECK (until_seq > 0 AND series >= 0 AND counts >= 0), 
	CONSTRAINT fk_refit_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_refit_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE route (
	operation_id SMALLINT NOT NULL, 
	walk_id BLOB NOT NULL, 
	unit_id BLOB NOT NULL, 
	place SMALLINT NOT NULL, 
	depth TEXT NOT NULL, 
	plants SMALLINT, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_route PRIMARY KEY (operation_id, walk_id, unit_id), 
	CONSTRAINT ck_route_depth CHECK (depth IN ('full', 'cards', 'glance')), 
	CONSTRAINT fk_route_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_route_operation_id_walk_id FOREIGN KEY(operation_id, walk_id) REFERENCES walk (operation_id, id), 
	CONSTRAINT fk_route_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
INSERT INTO "route" VALUES(1,X'01A2158825B278CEA58CED410CAC019F',X'01A215882486706FB425CD787FB6FD81',1,'full',NULL,1);
CREATE TABLE shift (
	operation_id SMALLINT NOT NULL, 
	digest BLOB NOT NULL, 
	device_id BLOB NOT NULL, 
	person_id BLOB NOT NULL, 
	started_at DATETIME NOT NULL, 
	ends_at DATETIME NOT NULL, 
	ended_at DATETIME, 
	CONSTRAINT pk_shift PRIMARY KEY (operation_id, digest), 
	CONSTRAINT fk_shift_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_shift_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_shift_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE sighting (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	unit_id BLOB NOT NULL, 
	walk_id BLOB, 
	seen_at DATETIME NOT NULL, 
	cause TEXT NOT NULL, 
	taxon VARCHAR(48), 
	pattern TEXT, 
	position TEXT, 
	words TEXT, 
	photo_sha256 VARCHAR(64), 
	CONSTRAINT pk_sighting PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_sighting_cause CHECK (cause IN ('pest', 'disease', 'abiotic', 'spray_injury', 'not_known')), 
	CONSTRAINT fk_sighting_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_sighting_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_sighting_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_sighting_operation_id_walk_id FOREIGN KEY(operation_id, walk_id) REFERENCES walk (operation_id, id), 
	CONSTRAINT fk_sighting_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "sighting" VALUES(1,X'01A2158826E774A2BCF674CC41042EF6',1,X'01A215882486706FB425CD787FB6FD81',NULL,'2026-03-10 09:00:00.000000','not_known',NULL,NULL,NULL,NULL,NULL);
CREATE TABLE sign_in (
	operation_id SMALLINT NOT NULL, 
	digest BLOB NOT NULL, 
	person_id BLOB NOT NULL, 
	browser TEXT NOT NULL, 
	started_at DATETIME NOT NULL, 
	last_used_at DATETIME NOT NULL, 
	ends_at DATETIME NOT NULL, 
	ended_at DATETIME, 
	CONSTRAINT pk_sign_in PRIMARY KEY (operation_id, digest), 
	CONSTRAINT fk_sign_in_operation_id_person_id FOREIGN KEY(operation_id, person_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_sign_in_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE stage (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	bits BIGINT NOT NULL, 
	code VARCHAR(48) NOT NULL, 
	names JSON NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_stage PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_stage_bits CHECK (bits > 0), 
	CONSTRAINT fk_stage_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_stage_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_stage_operation_id_bits UNIQUE (operation_id, bits), 
	CONSTRAINT uq_stage_operation_id_code UNIQUE (operation_id, code)
);
INSERT INTO "stage" VALUES(1,X'01A2158824A9732F8C3EFC3E0B8D75CB',1,1,'egg','{}',NULL);
INSERT INTO "stage" VALUES(1,X'01A2158824C17C61AB2C78A9B818B4EE',1,2,'larva','{}',NULL);
INSERT INTO "stage" VALUES(1,X'01A2158824CC79C2A72ED44528A84A82',1,4,'adult','{}',NULL);
INSERT INTO "stage" VALUES(1,X'01A2158824ED7E32AB15C51EEF603E34',1,6,'motile','{}',NULL);
CREATE TABLE station (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	unit_id BLOB NOT NULL, 
	code TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	role TEXT NOT NULL, 
	x_m FLOAT, 
	y_m FLOAT, 
	opened_on DATE NOT NULL, 
	closed_on DATE, 
	CONSTRAINT pk_station PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_station_kind CHECK (kind IN ('card', 'disc', 'trap', 'indicator', 'sensor', 'hive')), 
	CONSTRAINT ck_station_role CHECK (role IN ('interior', 'door', 'vent', 'outside', 'under_bench')), 
	CONSTRAINT ck_station_life CHECK (closed_on IS NULL OR closed_on > opened_on), 
	CONSTRAINT fk_station_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_station_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_station_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_station_operation_id_code UNIQUE (operation_id, code)
);
INSERT INTO "station" VALUES(1,X'01A215882581765D820B2FC34B3FF4D7',1,X'01A215882486706FB425CD787FB6FD81','S1','card','interior',NULL,NULL,'2026-01-01',NULL);
CREATE TABLE tally (
	operation_id SMALLINT NOT NULL, 
	observation_id BLOB NOT NULL, 
	method VARCHAR(48) NOT NULL, 
	taxon VARCHAR(48) NOT NULL, 
	stage VARCHAR(48) NOT NULL, 
	how VARCHAR(8) NOT NULL, 
	number INTEGER, 
	mean FLOAT, 
	infested SMALLINT, 
	rating SMALLINT, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_tally PRIMARY KEY (operation_id, observation_id, method, taxon, stage), 
	CONSTRAINT ck_tally_mean CHECK ((how = 'density') = (mean IS NOT NULL) AND (mean IS NULL OR mean >= 0)), 
	CONSTRAINT ck_tally_number CHECK ((how IN ('present', 'density')) = (number IS NULL)), 
	CONSTRAINT ck_tally_how CHECK (how IN ('counted', 'at_least', 'present', 'density')), 
	CONSTRAINT ck_tally_infested CHECK (infested >= 0 AND (how <> 'present' OR infested > 0) AND (number IS NULL OR infested <= number)), 
	CONSTRAINT ck_tally_sign CHECK (number >= 0 AND (how <> 'at_least' OR number > 0)), 
	CONSTRAINT fk_tally_operation_id_observation_id_method FOREIGN KEY(operation_id, observation_id, method) REFERENCES examined (operation_id, observation_id, method), 
	CONSTRAINT fk_tally_operation_id_stage FOREIGN KEY(operation_id, stage) REFERENCES stage (operation_id, code), 
	CONSTRAINT fk_tally_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_tally_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
INSERT INTO "tally" VALUES(1,X'01A2158826067022882E59E1AD336D3D','leaf_count','western_flower_thrips','adult','counted',4,NULL,NULL,NULL,2);
CREATE TABLE target (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	unit_id BLOB, 
	crop VARCHAR(48), 
	phase VARCHAR(32), 
	taxon VARCHAR(48) NOT NULL, 
	stage VARCHAR(48) NOT NULL, 
	method VARCHAR(48) NOT NULL, 
	plants_min SMALLINT, 
	every_days SMALLINT, 
	from_on DATE NOT NULL, 
	until_on DATE, 
	CONSTRAINT pk_target PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_target_scope CHECK ((unit_id IS NULL) <> (crop IS NULL)), 
	CONSTRAINT fk_target_operation_id_crop FOREIGN KEY(operation_id, crop) REFERENCES crop (operation_id, code), 
	CONSTRAINT fk_target_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_target_operation_id_method FOREIGN KEY(operation_id, method) REFERENCES method (operation_id, code), 
	CONSTRAINT fk_target_operation_id_stage FOREIGN KEY(operation_id, stage) REFERENCES stage (operation_id, code), 
	CONSTRAINT fk_target_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_target_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_target_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE taxon (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	parent VARCHAR(48), 
	kind TEXT NOT NULL, 
	scientific TEXT, 
	regulated BOOLEAN NOT NULL, 
	code VARCHAR(48) NOT NULL, 
	names JSON NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_taxon PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_taxon_kind CHECK (kind IN ('pest', 'disease', 'enemy', 'abiotic', 'weed', 'other')), 
	CONSTRAINT ck_taxon_parent CHECK (parent IS NULL OR parent <> code), 
	CONSTRAINT fk_taxon_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_taxon_operation_id_parent FOREIGN KEY(operation_id, parent) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_taxon_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_taxon_operation_id_code UNIQUE (operation_id, code)
);
INSERT INTO "taxon" VALUES(1,X'01A21588250E74538203D72D1BD57B82',1,NULL,'pest',NULL,0,'thrips','{}',NULL);
INSERT INTO "taxon" VALUES(1,X'01A21588251E73DB9E291E7E8F74F913',1,'thrips','pest',NULL,0,'western_flower_thrips','{}',NULL);
CREATE TABLE threshold (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	taxon VARCHAR(48) NOT NULL, 
	stage VARCHAR(48) NOT NULL, 
	method VARCHAR(48) NOT NULL, 
	kind TEXT NOT NULL, 
	rule TEXT NOT NULL, 
	crop VARCHAR(48) NOT NULL, 
	phase VARCHAR(32) NOT NULL, 
	age_from_weeks SMALLINT NOT NULL, 
	age_until_weeks SMALLINT, 
	air_space_id BLOB, 
	from_on DATE NOT NULL, 
	sense TEXT NOT NULL, 
	value FLOAT, 
	high FLOAT, 
	below BOOLEAN NOT NULL, 
	per TEXT, 
	enemy VARCHAR(48), 
	source TEXT NOT NULL, 
	status TEXT NOT NULL, 
	reason TEXT, 
	CONSTRAINT pk_threshold PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_threshold_rule_scope CHECK ((rule <> 'phase' OR phase <> 'any') AND (rule <> 'crop' OR (crop <> 'any_crop' AND phase = 'any')) AND (rule <> 'general' OR phase = 'any')), 
	CONSTRAINT ck_threshold_ratio CHECK ((sense = 'ratio') = (enemy IS NOT NULL)), 
	CONSTRAINT ck_threshold_value CHECK ((sense IN ('any_find', 'none')) = (value IS NULL) AND (value IS NULL OR value > 0) AND (value IS NULL) = (per IS NULL) AND (high IS NULL OR high >= value)), 
	CONSTRAINT ck_threshold_kind CHECK (kind IN ('action', 'economic', 'start_biocontrol', 'inspect', 'ship')), 
	CONSTRAINT ck_threshold_rule CHECK (rule IN ('regulated', 'virus', 'ship', 'phase', 'crop', 'general')), 
	CONSTRAINT ck_threshold_sense CHECK (sense IN ('ceiling', 'floor', 'ratio', 'any_find', 'none')), 
	CONSTRAINT ck_threshold_age CHECK (age_from_weeks >= 0 AND age_until_weeks > age_from_weeks), 
	CONSTRAINT fk_threshold_operation_id_air_space_id FOREIGN KEY(operation_id, air_space_id) REFERENCES air_space (operation_id, id), 
	CONSTRAINT fk_threshold_operation_id_crop FOREIGN KEY(operation_id, crop) REFERENCES crop (operation_id, code), 
	CONSTRAINT fk_threshold_operation_id_enemy FOREIGN KEY(operation_id, enemy) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_threshold_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_threshold_operation_id_method FOREIGN KEY(operation_id, method) REFERENCES method (operation_id, code), 
	CONSTRAINT fk_threshold_operation_id_stage FOREIGN KEY(operation_id, stage) REFERENCES stage (operation_id, code), 
	CONSTRAINT fk_threshold_operation_id_taxon FOREIGN KEY(operation_id, taxon) REFERENCES taxon (operation_id, code), 
	CONSTRAINT fk_threshold_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_threshold_key_of_air_space UNIQUE (operation_id, taxon, stage, method, kind, rule, crop, phase, age_from_weeks, from_on, air_space_id)
);
CREATE TABLE treated (
	operation_id SMALLINT NOT NULL, 
	application_id BLOB NOT NULL, 
	n SMALLINT NOT NULL, 
	unit_id BLOB NOT NULL, 
	share_percent SMALLINT NOT NULL, 
	rev SMALLINT NOT NULL, 
	CONSTRAINT pk_treated PRIMARY KEY (operation_id, application_id, n, unit_id), 
	CONSTRAINT ck_treated_share CHECK (share_percent BETWEEN 1 AND 100), 
	CONSTRAINT fk_treated_operation_id_application_id_n FOREIGN KEY(operation_id, application_id, n) REFERENCES load (operation_id, application_id, n), 
	CONSTRAINT fk_treated_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_treated_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
)
 WITHOUT ROWID

;
CREATE TABLE unit (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	house_id BLOB, 
	kind TEXT NOT NULL, 
	name TEXT NOT NULL, 
	former_names JSON NOT NULL, 
	level SMALLINT NOT NULL, 
	x_m FLOAT, 
	y_m FLOAT, 
	width_m FLOAT, 
	length_m FLOAT, 
	cleanliness TEXT, 
	opened_on DATE NOT NULL, 
	closed_on DATE, 
	predecessor_id BLOB, 
	CONSTRAINT pk_unit PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_unit_kind CHECK (kind IN ('unit', 'place')), 
	CONSTRAINT ck_unit_rectangle CHECK ((x_m IS NULL) = (y_m IS NULL) AND (x_m IS NULL) = (width_m IS NULL) AND (x_m IS NULL) = (length_m IS NULL) AND (width_m IS NULL OR (width_m > 0 AND length_m > 0))), 
	CONSTRAINT ck_unit_life CHECK (closed_on IS NULL OR closed_on > opened_on), 
	CONSTRAINT ck_unit_predecessor CHECK (predecessor_id IS NULL OR predecessor_id <> id), 
	CONSTRAINT fk_unit_operation_id_house_id FOREIGN KEY(operation_id, house_id) REFERENCES house (operation_id, id), 
	CONSTRAINT fk_unit_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_unit_operation_id_predecessor_id FOREIGN KEY(operation_id, predecessor_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_unit_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_unit_operation_id_house_id_name UNIQUE (operation_id, house_id, name)
);
INSERT INTO "unit" VALUES(1,X'01A215882486706FB425CD787FB6FD81',1,X'01A21588247276A2B1F6FA5E80C6273F','unit','U1','{}',0,0.0,0.0,2.0,20.0,NULL,'2026-01-01',NULL,NULL);
INSERT INTO "unit" VALUES(1,X'01A2158824997548AAECCEE575345240',1,X'01A21588247276A2B1F6FA5E80C6273F','unit','U2','{}',0,0.0,0.0,2.0,20.0,NULL,'2026-01-01',NULL,NULL);
CREATE TABLE visit (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	walk_id BLOB NOT NULL, 
	unit_id BLOB NOT NULL, 
	state TEXT NOT NULL, 
	reason TEXT, 
	started_at DATETIME, 
	ended_at DATETIME, 
	fast BOOLEAN NOT NULL, 
	note TEXT, 
	CONSTRAINT pk_visit PRIMARY KEY (operation_id, id), 
	CONSTRAINT ck_visit_reason CHECK (state IN ('open', 'done') OR reason IS NOT NULL), 
	CONSTRAINT ck_visit_state CHECK (state IN ('open', 'done', 'cut_short', 'skipped')), 
	CONSTRAINT ck_visit_times CHECK (ended_at IS NULL OR ended_at >= started_at), 
	CONSTRAINT fk_visit_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_visit_operation_id_unit_id FOREIGN KEY(operation_id, unit_id) REFERENCES unit (operation_id, id), 
	CONSTRAINT fk_visit_operation_id_walk_id FOREIGN KEY(operation_id, walk_id) REFERENCES walk (operation_id, id), 
	CONSTRAINT fk_visit_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id), 
	CONSTRAINT uq_visit_operation_id_walk_id_unit_id UNIQUE (operation_id, walk_id, unit_id)
);
INSERT INTO "visit" VALUES(1,X'01A2158825D37CA584627B3DDEE60DD1',1,X'01A2158825B278CEA58CED410CAC019F',X'01A215882486706FB425CD787FB6FD81','done',NULL,NULL,NULL,0,NULL);
CREATE TABLE walk (
	operation_id SMALLINT NOT NULL, 
	id BLOB NOT NULL, 
	rev SMALLINT NOT NULL, 
	walk_on DATE NOT NULL, 
	scout_id BLOB, 
	device_id BLOB, 
	CONSTRAINT pk_walk PRIMARY KEY (operation_id, id), 
	CONSTRAINT fk_walk_operation_id_device_id FOREIGN KEY(operation_id, device_id) REFERENCES device (operation_id, id), 
	CONSTRAINT fk_walk_operation_id_id_rev FOREIGN KEY(operation_id, id, rev) REFERENCES ledger (operation_id, id, rev), 
	CONSTRAINT fk_walk_operation_id_scout_id FOREIGN KEY(operation_id, scout_id) REFERENCES person (operation_id, id), 
	CONSTRAINT fk_walk_operation_id FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "walk" VALUES(1,X'01A2158825B278CEA58CED410CAC019F',1,'2026-03-10',X'01A2158824137B5BAB327AED42690881',NULL);
CREATE INDEX ix_walk_day ON walk (operation_id, walk_on);
CREATE UNIQUE INDEX uq_threshold_key ON threshold (operation_id, taxon, stage, method, kind, rule, crop, phase, age_from_weeks, from_on) WHERE air_space_id IS NULL;
CREATE INDEX ix_load_start ON load (operation_id, started_at);
CREATE UNIQUE INDEX uq_unit_name_without_house ON unit (operation_id, name) WHERE house_id IS NULL;
CREATE INDEX ix_flag_unit ON flag (operation_id, unit_id);
CREATE INDEX ix_planting_unit ON planting (operation_id, unit_id);
CREATE INDEX ix_target_unit ON target (operation_id, unit_id);
CREATE INDEX ix_treated_unit ON treated (operation_id, unit_id);
CREATE INDEX ix_visit_unit ON visit (operation_id, unit_id);
CREATE UNIQUE INDEX uq_card_hanging ON card (operation_id, station_id, method) WHERE taken_at IS NULL;
CREATE INDEX ix_movement_from ON movement (operation_id, from_id, moved_on);
CREATE INDEX ix_movement_to ON movement (operation_id, to_id, moved_on);
CREATE INDEX ix_climate_log ON climate (operation_id, log_id);
CREATE INDEX ix_observation_card ON observation (operation_id, card_id, seen_at) WHERE card_id IS NOT NULL;
CREATE INDEX ix_observation_planting ON observation (operation_id, planting_id) WHERE planting_id IS NOT NULL;
CREATE INDEX ix_observation_visit ON observation (operation_id, walk_id, unit_id);
CREATE TRIGGER ledger_ledger_kept_update BEFORE UPDATE ON ledger WHEN 1 = 1
BEGIN SELECT RAISE(ABORT, 'the ledger is never changed'); END;
CREATE TRIGGER ledger_ledger_kept_delete BEFORE DELETE ON ledger WHEN 1 = 1
BEGIN SELECT RAISE(ABORT, 'the ledger is never changed'); END;
CREATE TRIGGER ledger_ledger_order_insert BEFORE INSERT ON ledger WHEN NEW.seq <> 1 + coalesce((SELECT max(l.seq) FROM ledger l WHERE l.operation_id = NEW.operation_id), 0)
BEGIN SELECT RAISE(ABORT, 'the ledger has no gaps'); END;
CREATE TRIGGER ledger_ledger_rev_insert BEFORE INSERT ON ledger WHEN EXISTS (SELECT 1 FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id AND (l.rev >= NEW.rev OR l.kind <> NEW.kind))
BEGIN SELECT RAISE(ABORT, 'a newer or equal rev is already in the ledger'); END;
CREATE TRIGGER unit_unit_redrawn_update BEFORE UPDATE ON unit WHEN ((OLD.x_m IS NOT NULL AND (NEW.x_m IS NULL OR NEW.x_m <> OLD.x_m)) OR (OLD.y_m IS NOT NULL AND (NEW.y_m IS NULL OR NEW.y_m <> OLD.y_m)) OR (OLD.width_m IS NOT NULL AND (NEW.width_m IS NULL OR NEW.width_m <> OLD.width_m)) OR (OLD.length_m IS NOT NULL AND (NEW.length_m IS NULL OR NEW.length_m <> OLD.length_m)) OR (OLD.level IS NOT NULL AND (NEW.level IS NULL OR NEW.level <> OLD.level)) OR (OLD.kind IS NOT NULL AND (NEW.kind IS NULL OR NEW.kind <> OLD.kind)) OR (OLD.house_id IS NOT NULL AND (NEW.house_id IS NULL OR NEW.house_id <> OLD.house_id))) AND (EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.unit_id = OLD.id) OR EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.unit_id = OLD.id))
BEGIN SELECT RAISE(ABORT, 'a unit is never redrawn: close it and open its successor'); END;
CREATE TRIGGER unit_unit_succession_insert AFTER INSERT ON unit WHEN EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on))
BEGIN SELECT RAISE(ABORT, 'a successor opens when its predecessor is closed'); END;
CREATE TRIGGER unit_unit_succession_update AFTER UPDATE ON unit WHEN EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.predecessor_id AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on))
BEGIN SELECT RAISE(ABORT, 'a successor opens when its predecessor is closed'); END;
CREATE TRIGGER unit_unit_life_update AFTER UPDATE ON unit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND u.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit was walked on a day outside this life'); END;
CREATE TRIGGER walk_walk_life_update AFTER UPDATE ON walk WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND w.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'a unit of this walk did not live on that day'); END;
CREATE TRIGGER visit_visit_life_insert AFTER INSERT ON visit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit did not live on the day of this walk'); END;
CREATE TRIGGER visit_visit_life_update AFTER UPDATE ON visit WHEN EXISTS (SELECT 1 FROM visit v JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id WHERE v.operation_id = NEW.operation_id AND v.id = NEW.id AND (w.walk_on < u.opened_on OR w.walk_on >= u.closed_on))
BEGIN SELECT RAISE(ABORT, 'the unit did not live on the day of this walk'); END;
CREATE TRIGGER visit_visit_skipped_update AFTER UPDATE ON visit WHEN NEW.state = 'skipped' AND EXISTS (SELECT 1 FROM observation o WHERE o.operation_id = NEW.operation_id AND o.walk_id = NEW.walk_id AND o.unit_id = NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'a unit with looks was not skipped'); END;
CREATE TRIGGER observation_observation_skipped_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped')
BEGIN SELECT RAISE(ABORT, 'a skipped unit has no looks'); END;
CREATE TRIGGER observation_observation_skipped_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = NEW.operation_id AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped')
BEGIN SELECT RAISE(ABORT, 'a skipped unit has no looks'); END;
CREATE TRIGGER observation_observation_planting_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'the planting is in another unit'); END;
CREATE TRIGGER observation_observation_planting_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = NEW.operation_id AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id)
BEGIN SELECT RAISE(ABORT, 'the planting is in another unit'); END;
CREATE TRIGGER observation_observation_card_insert AFTER INSERT ON observation WHEN EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at))
BEGIN SELECT RAISE(ABORT, 'the card hangs in another unit or did not hang then'); END;
CREATE TRIGGER observation_observation_card_update AFTER UPDATE ON observation WHEN EXISTS (SELECT 1 FROM card c JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id WHERE c.operation_id = NEW.operation_id AND c.id = NEW.card_id AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at))
BEGIN SELECT RAISE(ABORT, 'the card hangs in another unit or did not hang then'); END;
CREATE TRIGGER examined_examined_card_insert BEFORE INSERT ON examined WHEN (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable')
BEGIN SELECT RAISE(ABORT, 'a card that could not be read has no counts'); END;
CREATE TRIGGER examined_examined_card_update BEFORE UPDATE ON examined WHEN (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) IN ('missing', 'fallen', 'unreadable')
BEGIN SELECT RAISE(ABORT, 'a card that could not be read has no counts'); END;
CREATE TRIGGER examined_examined_method_insert BEFORE INSERT ON examined WHEN EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method))
BEGIN SELECT RAISE(ABORT, 'a look has a plant''s method, a reading that of its card'); END;
CREATE TRIGGER examined_examined_method_update BEFORE UPDATE ON examined WHEN EXISTS (SELECT 1 FROM observation o JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap')) OR c.method <> NEW.method))
BEGIN SELECT RAISE(ABORT, 'a look has a plant''s method, a reading that of its card'); END;
CREATE TRIGGER tally_tally_infested_insert BEFORE INSERT ON tally WHEN NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'more plants infested than inspected'); END;
CREATE TRIGGER tally_tally_infested_update BEFORE UPDATE ON tally WHEN NEW.infested > (SELECT o.plants FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'more plants infested than inspected'); END;
CREATE TRIGGER tally_tally_full_insert BEFORE INSERT ON tally WHEN NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full'
BEGIN SELECT RAISE(ABORT, 'a full card is counted as at least'); END;
CREATE TRIGGER tally_tally_full_update BEFORE UPDATE ON tally WHEN NEW.how = 'counted' AND NEW.number > 0 AND (SELECT o.state FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id) = 'full'
BEGIN SELECT RAISE(ABORT, 'a full card is counted as at least'); END;
CREATE TRIGGER tally_tally_overlap_insert BEFORE INSERT ON tally WHEN EXISTS (SELECT 1 FROM tally t JOIN stage a ON a.operation_id = t.operation_id AND a.code = t.stage JOIN stage b ON b.operation_id = t.operation_id AND b.code = NEW.stage WHERE t.operation_id = NEW.operation_id AND t.observation_id = NEW.observation_id AND t.method = NEW.method AND t.taxon = NEW.taxon AND t.stage <> NEW.stage AND (a.bits & b.bits) <> 0)
BEGIN SELECT RAISE(ABORT, 'this stage overlaps one already tallied here'); END;
CREATE TRIGGER planting_planting_place_insert AFTER INSERT ON planting WHEN EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit')
BEGIN SELECT RAISE(ABORT, 'a place has no plantings'); END;
CREATE TRIGGER planting_planting_place_update AFTER UPDATE ON planting WHEN EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = NEW.operation_id AND u.id = NEW.unit_id AND u.kind <> 'unit')
BEGIN SELECT RAISE(ABORT, 'a place has no plantings'); END;
CREATE TRIGGER planting_planting_stays_update BEFORE UPDATE ON planting WHEN OLD.unit_id <> NEW.unit_id
BEGIN SELECT RAISE(ABORT, 'plants change units by a movement'); END;
CREATE TRIGGER phase_phase_area_insert AFTER INSERT ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END;
CREATE TRIGGER phase_phase_area_update AFTER UPDATE ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = NEW.operation_id AND me.id = NEW.planting_id AND d.from_on >= NEW.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END;
CREATE TRIGGER phase_phase_area_delete AFTER DELETE ON phase WHEN EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = OLD.operation_id AND me.id = OLD.planting_id AND d.from_on >= OLD.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))
BEGIN SELECT RAISE(ABORT, 'plantings share more than 100 % of the unit'); END;
CREATE TRIGGER movement_movement_short_insert AFTER INSERT ON movement WHEN EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = NEW.operation_id AND o.from_id = NEW.from_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.to_id = NEW.from_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = NEW.operation_id AND i.from_id = NEW.from_id AND i.moved_on <= o.moved_on))
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END;
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
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END;
CREATE TRIGGER movement_movement_short_delete AFTER DELETE ON movement WHEN EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = OLD.operation_id AND o.from_id = OLD.to_id AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.to_id = OLD.to_id AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = OLD.operation_id AND i.from_id = OLD.to_id AND i.moved_on <= o.moved_on))
BEGIN SELECT RAISE(ABORT, 'more plants leave than are there'); END;
CREATE TRIGGER air_space_newest_insert AFTER INSERT ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER air_space_newest_update AFTER UPDATE ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'air_space' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER air_space_forward_update BEFORE UPDATE ON air_space WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER air_space_void_delete BEFORE DELETE ON air_space WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER crop_newest_insert AFTER INSERT ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER crop_newest_update AFTER UPDATE ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'crop' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER crop_forward_update BEFORE UPDATE ON crop WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER crop_void_delete BEFORE DELETE ON crop WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER method_newest_insert AFTER INSERT ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER method_newest_update AFTER UPDATE ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'method' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER method_forward_update BEFORE UPDATE ON method WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER method_void_delete BEFORE DELETE ON method WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER stage_newest_insert AFTER INSERT ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER stage_newest_update AFTER UPDATE ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'stage' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER stage_forward_update BEFORE UPDATE ON stage WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER stage_void_delete BEFORE DELETE ON stage WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER taxon_newest_insert AFTER INSERT ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER taxon_newest_update AFTER UPDATE ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'taxon' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER taxon_forward_update BEFORE UPDATE ON taxon WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER taxon_void_delete BEFORE DELETE ON taxon WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER walk_newest_insert AFTER INSERT ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER walk_newest_update AFTER UPDATE ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'walk' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER walk_forward_update BEFORE UPDATE ON walk WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER walk_void_delete BEFORE DELETE ON walk WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER application_newest_insert AFTER INSERT ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER application_newest_update AFTER UPDATE ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'application' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER application_forward_update BEFORE UPDATE ON application WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER application_void_delete BEFORE DELETE ON application WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER house_newest_insert AFTER INSERT ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER house_newest_update AFTER UPDATE ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'house' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER house_forward_update BEFORE UPDATE ON house WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER house_void_delete BEFORE DELETE ON house WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER threshold_newest_insert AFTER INSERT ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER threshold_newest_update AFTER UPDATE ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'threshold' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER threshold_forward_update BEFORE UPDATE ON threshold WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER threshold_void_delete BEFORE DELETE ON threshold WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER fixture_newest_insert AFTER INSERT ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER fixture_newest_update AFTER UPDATE ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'fixture' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER fixture_forward_update BEFORE UPDATE ON fixture WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER fixture_void_delete BEFORE DELETE ON fixture WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER load_with_owner_insert BEFORE INSERT ON load WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER load_with_owner_update BEFORE UPDATE ON load WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER load_forward_update BEFORE UPDATE ON load WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER load_superseded_delete BEFORE DELETE ON load WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER unit_newest_insert AFTER INSERT ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER unit_newest_update AFTER UPDATE ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'unit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER unit_forward_update BEFORE UPDATE ON unit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER unit_void_delete BEFORE DELETE ON unit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER flag_newest_insert AFTER INSERT ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER flag_newest_update AFTER UPDATE ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'flag' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER flag_forward_update BEFORE UPDATE ON flag WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER flag_void_delete BEFORE DELETE ON flag WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER identification_newest_insert AFTER INSERT ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER identification_newest_update AFTER UPDATE ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'identification' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER identification_forward_update BEFORE UPDATE ON identification WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER identification_void_delete BEFORE DELETE ON identification WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER planting_newest_insert AFTER INSERT ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER planting_newest_update AFTER UPDATE ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'planting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER planting_forward_update BEFORE UPDATE ON planting WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER planting_void_delete BEFORE DELETE ON planting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER route_with_owner_insert BEFORE INSERT ON route WHEN NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER route_with_owner_update BEFORE UPDATE ON route WHEN NEW.rev <> (SELECT o.rev FROM walk o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER route_forward_update BEFORE UPDATE ON route WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER route_superseded_delete BEFORE DELETE ON route WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.walk_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER sighting_newest_insert AFTER INSERT ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER sighting_newest_update AFTER UPDATE ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'sighting' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER sighting_forward_update BEFORE UPDATE ON sighting WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER sighting_void_delete BEFORE DELETE ON sighting WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER station_newest_insert AFTER INSERT ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER station_newest_update AFTER UPDATE ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'station' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER station_forward_update BEFORE UPDATE ON station WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER station_void_delete BEFORE DELETE ON station WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER target_newest_insert AFTER INSERT ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER target_newest_update AFTER UPDATE ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'target' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER target_forward_update BEFORE UPDATE ON target WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER target_void_delete BEFORE DELETE ON target WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER treated_with_owner_insert BEFORE INSERT ON treated WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER treated_with_owner_update BEFORE UPDATE ON treated WHEN NEW.rev <> (SELECT o.rev FROM application o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.application_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER treated_forward_update BEFORE UPDATE ON treated WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER treated_superseded_delete BEFORE DELETE ON treated WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.application_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER visit_newest_insert AFTER INSERT ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER visit_newest_update AFTER UPDATE ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'visit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER visit_forward_update BEFORE UPDATE ON visit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER visit_void_delete BEFORE DELETE ON visit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER card_newest_insert AFTER INSERT ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER card_newest_update AFTER UPDATE ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'card' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER card_forward_update BEFORE UPDATE ON card WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER card_void_delete BEFORE DELETE ON card WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER climate_log_newest_insert AFTER INSERT ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER climate_log_newest_update AFTER UPDATE ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'climate_log' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER climate_log_forward_update BEFORE UPDATE ON climate_log WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER climate_log_void_delete BEFORE DELETE ON climate_log WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER movement_newest_insert AFTER INSERT ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER movement_newest_update AFTER UPDATE ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'movement' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER movement_forward_update BEFORE UPDATE ON movement WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER movement_void_delete BEFORE DELETE ON movement WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER phase_with_owner_insert BEFORE INSERT ON phase WHEN NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER phase_with_owner_update BEFORE UPDATE ON phase WHEN NEW.rev <> (SELECT o.rev FROM planting o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER phase_forward_update BEFORE UPDATE ON phase WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER phase_superseded_delete BEFORE DELETE ON phase WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.planting_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER climate_with_owner_insert BEFORE INSERT ON climate WHEN NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER climate_with_owner_update BEFORE UPDATE ON climate WHEN NEW.rev <> (SELECT o.rev FROM climate_log o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.log_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER climate_forward_update BEFORE UPDATE ON climate WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER climate_superseded_delete BEFORE DELETE ON climate WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.log_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER observation_newest_insert AFTER INSERT ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER observation_newest_update AFTER UPDATE ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'observation' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER observation_forward_update BEFORE UPDATE ON observation WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER observation_void_delete BEFORE DELETE ON observation WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
CREATE TRIGGER examined_with_owner_insert BEFORE INSERT ON examined WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER examined_with_owner_update BEFORE UPDATE ON examined WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER examined_forward_update BEFORE UPDATE ON examined WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER examined_superseded_delete BEFORE DELETE ON examined WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE TRIGGER tally_with_owner_insert BEFORE INSERT ON tally WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER tally_with_owner_update BEFORE UPDATE ON tally WHEN NEW.rev <> (SELECT o.rev FROM observation o WHERE o.operation_id = NEW.operation_id AND o.id = NEW.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line has the rev of its record'); END;
CREATE TRIGGER tally_forward_update BEFORE UPDATE ON tally WHEN NEW.rev <= OLD.rev
BEGIN SELECT RAISE(ABORT, 'a line changes only with its record'); END;
CREATE TRIGGER tally_superseded_delete BEFORE DELETE ON tally WHEN OLD.rev >= (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = OLD.operation_id AND l.id = OLD.observation_id)
BEGIN SELECT RAISE(ABORT, 'a line goes only with a newer rev of its record'); END;
CREATE INDEX ix_account_event_person ON account_event (operation_id, person_id, n);
CREATE INDEX ix_sign_in_person ON sign_in (operation_id, person_id);
CREATE TRIGGER account_event_kept_update BEFORE UPDATE ON account_event WHEN 1 = 1 BEGIN SELECT RAISE(ABORT, 'what was done with accounts is never changed'); END;
CREATE TRIGGER account_event_kept_delete BEFORE DELETE ON account_event WHEN 1 = 1 BEGIN SELECT RAISE(ABORT, 'what was done with accounts is never changed'); END;
CREATE TRIGGER refit_newest_insert AFTER INSERT ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER refit_newest_update AFTER UPDATE ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END;
CREATE TRIGGER refit_forward_update BEFORE UPDATE ON refit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id
BEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END;
CREATE TRIGGER refit_void_delete BEFORE DELETE ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END;
COMMIT;
