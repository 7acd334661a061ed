"""What the forecast learned from the operation's own records.

Revision ID: 0004
Revises: 0003
"""

import sqlalchemy as sa
from alembic import op

from benchwalk.records.base import Uid

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "refit",
        sa.Column("operation_id", sa.SmallInteger(), nullable=False),
        sa.Column("id", Uid(), nullable=False),
        sa.Column("rev", sa.SmallInteger(), nullable=False),
        sa.Column("fitted_on", sa.Date(), nullable=False),
        sa.Column("until_seq", sa.Integer(), nullable=False),
        sa.Column("series", sa.Integer(), nullable=False),
        sa.Column("counts", sa.Integer(), nullable=False),
        sa.Column("numbers", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "until_seq > 0 AND series >= 0 AND counts >= 0", name=op.f("ck_refit_learned")
        ),
        sa.ForeignKeyConstraint(
            ["operation_id", "id", "rev"],
            ["ledger.operation_id", "ledger.id", "ledger.rev"],
            name=op.f("fk_refit_operation_id_id_rev"),
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_refit_operation_id")
        ),
        sa.PrimaryKeyConstraint("operation_id", "id", name=op.f("pk_refit")),
    )
    for statement in RULES[op.get_bind().dialect.name]:
        op.execute(sa.text(statement.replace(":", "\\:")))


def downgrade() -> None:
    raise NotImplementedError("records are not taken out again; restore a copy from before")


# the rules as they were when this migration was made, never edited
RULES = {
    "sqlite": [
        "CREATE TRIGGER refit_newest_insert AFTER INSERT ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))\nBEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END",
        "CREATE TRIGGER refit_newest_update AFTER UPDATE ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id))\nBEGIN SELECT RAISE(ABORT, 'this is not the newest word of the ledger'); END",
        "CREATE TRIGGER refit_forward_update BEFORE UPDATE ON refit WHEN NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id\nBEGIN SELECT RAISE(ABORT, 'a record changes only by a higher rev'); END",
        "CREATE TRIGGER refit_void_delete BEFORE DELETE ON refit WHEN NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)\nBEGIN SELECT RAISE(ABORT, 'a record is voided in the ledger, never deleted'); END",
    ],
    "postgresql": [
        "CREATE FUNCTION refit_newest_insert() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN\nIF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$",
        "CREATE TRIGGER refit_newest_insert AFTER INSERT ON refit FOR EACH ROW EXECUTE FUNCTION refit_newest_insert()",
        "CREATE FUNCTION refit_newest_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN\nIF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = NEW.operation_id AND k.id = NEW.id AND k.rev = NEW.rev AND k.kind = 'refit' AND k.void_reason IS NULL AND k.rev = (SELECT max(l.rev) FROM ledger l WHERE l.operation_id = NEW.operation_id AND l.id = NEW.id)) THEN RAISE EXCEPTION '%', 'this is not the newest word of the ledger' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$",
        "CREATE TRIGGER refit_newest_update AFTER UPDATE ON refit FOR EACH ROW EXECUTE FUNCTION refit_newest_update()",
        "CREATE FUNCTION refit_forward_update() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN\nIF NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id THEN RAISE EXCEPTION '%', 'a record changes only by a higher rev' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$",
        "CREATE TRIGGER refit_forward_update BEFORE UPDATE ON refit FOR EACH ROW EXECUTE FUNCTION refit_forward_update()",
        "CREATE FUNCTION refit_void_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN\nIF NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = OLD.operation_id AND k.id = OLD.id AND k.rev > OLD.rev AND k.void_reason IS NOT NULL) THEN RAISE EXCEPTION '%', 'a record is voided in the ledger, never deleted' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN OLD; END $$",
        "CREATE TRIGGER refit_void_delete BEFORE DELETE ON refit FOR EACH ROW EXECUTE FUNCTION refit_void_delete()",
        "ALTER TABLE refit ENABLE ROW LEVEL SECURITY",
        "CREATE POLICY own ON refit USING (operation_id = current_setting('benchwalk.operation')::smallint)",
    ],
}
