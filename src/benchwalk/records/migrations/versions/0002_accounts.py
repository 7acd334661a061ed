"""Accounts: secrets, links, sign-ins, phones' tokens, and what was done with them.

Revision ID: 0002
Revises: 0001
"""

import sqlalchemy as sa
from alembic import op

from benchwalk.records.base import Uid, Utc

revision = "0002"
down_revision = "0001"

TABLES = (
    "account_event", "canary", "credential", "device_token", "known_browser", "link", "shift",
    "sign_in",
)
KEPT = "what was done with accounts is never changed"


def upgrade() -> None:
    op.create_table('account_event',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('n', sa.Integer(), autoincrement=False, nullable=False),
    sa.Column('at', Utc(), nullable=False),
    sa.Column('kind', sa.String(length=24), nullable=False),
    sa.Column('person_id', Uid(), nullable=True),
    sa.Column('by_id', Uid(), nullable=True),
    sa.Column('device_id', Uid(), nullable=True),
    sa.Column('source', sa.Text(), nullable=True),
    sa.Column('detail', sa.JSON(), nullable=True),
    sa.ForeignKeyConstraint(['operation_id', 'by_id'], ['person.operation_id', 'person.id'], name=op.f('fk_account_event_operation_id_by_id')),
    sa.ForeignKeyConstraint(['operation_id', 'device_id'], ['device.operation_id', 'device.id'], name=op.f('fk_account_event_operation_id_device_id')),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_account_event_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_account_event_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'n', name=op.f('pk_account_event'))
    )
    op.create_index('ix_account_event_person', 'account_event', ['operation_id', 'person_id', 'n'], unique=False)
    op.create_table('canary',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('said_at', Utc(), nullable=False),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_canary_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', name=op.f('pk_canary'))
    )
    op.create_table('credential',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('person_id', Uid(), nullable=False),
    sa.Column('sign_in_name', sa.Text(), nullable=False),
    sa.Column('passphrase', sa.Text(), nullable=True),
    sa.Column('pin', sa.Text(), nullable=True),
    sa.Column('changed_at', Utc(), nullable=False),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_credential_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_credential_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'person_id', name=op.f('pk_credential')),
    sa.UniqueConstraint('operation_id', 'sign_in_name', name=op.f('uq_credential_operation_id_sign_in_name'))
    )
    op.create_table('device_token',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('digest', sa.LargeBinary(length=32), nullable=False),
    sa.Column('device_id', Uid(), nullable=False),
    sa.Column('scope', sa.String(length=8), nullable=False),
    sa.Column('made_at', Utc(), nullable=False),
    sa.Column('made_by_id', Uid(), nullable=True),
    sa.Column('last_used_at', Utc(), nullable=True),
    sa.Column('revoked_at', Utc(), nullable=True),
    sa.ForeignKeyConstraint(['operation_id', 'device_id'], ['device.operation_id', 'device.id'], name=op.f('fk_device_token_operation_id_device_id')),
    sa.ForeignKeyConstraint(['operation_id', 'made_by_id'], ['person.operation_id', 'person.id'], name=op.f('fk_device_token_operation_id_made_by_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_device_token_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'digest', name=op.f('pk_device_token'))
    )
    op.create_table('known_browser',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('digest', sa.LargeBinary(length=32), nullable=False),
    sa.Column('person_id', Uid(), nullable=False),
    sa.Column('last_used_at', Utc(), nullable=False),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_known_browser_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_known_browser_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'digest', name=op.f('pk_known_browser'))
    )
    op.create_table('link',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('digest', sa.LargeBinary(length=32), nullable=False),
    sa.Column('typed', sa.LargeBinary(length=32), nullable=True),
    sa.Column('purpose', sa.String(length=8), nullable=False),
    sa.Column('person_id', Uid(), nullable=True),
    sa.Column('made_by_id', Uid(), nullable=True),
    sa.Column('made_at', Utc(), nullable=False),
    sa.Column('ends_at', Utc(), nullable=False),
    sa.Column('used_at', Utc(), nullable=True),
    sa.CheckConstraint("purpose IN ('set_up', 'choose', 'enter', 'pair', 'calendar')", name=op.f('ck_link_purpose')),
    sa.ForeignKeyConstraint(['operation_id', 'made_by_id'], ['person.operation_id', 'person.id'], name=op.f('fk_link_operation_id_made_by_id')),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_link_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_link_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'digest', name=op.f('pk_link')),
    sa.UniqueConstraint('operation_id', 'typed', name=op.f('uq_link_operation_id_typed'))
    )
    op.create_table('shift',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('digest', sa.LargeBinary(length=32), nullable=False),
    sa.Column('device_id', Uid(), nullable=False),
    sa.Column('person_id', Uid(), nullable=False),
    sa.Column('started_at', Utc(), nullable=False),
    sa.Column('ends_at', Utc(), nullable=False),
    sa.Column('ended_at', Utc(), nullable=True),
    sa.ForeignKeyConstraint(['operation_id', 'device_id'], ['device.operation_id', 'device.id'], name=op.f('fk_shift_operation_id_device_id')),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_shift_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_shift_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'digest', name=op.f('pk_shift'))
    )
    op.create_table('sign_in',
    sa.Column('operation_id', sa.SmallInteger(), nullable=False),
    sa.Column('digest', sa.LargeBinary(length=32), nullable=False),
    sa.Column('person_id', Uid(), nullable=False),
    sa.Column('browser', sa.Text(), nullable=False),
    sa.Column('started_at', Utc(), nullable=False),
    sa.Column('last_used_at', Utc(), nullable=False),
    sa.Column('ends_at', Utc(), nullable=False),
    sa.Column('ended_at', Utc(), nullable=True),
    sa.ForeignKeyConstraint(['operation_id', 'person_id'], ['person.operation_id', 'person.id'], name=op.f('fk_sign_in_operation_id_person_id')),
    sa.ForeignKeyConstraint(['operation_id'], ['operation.id'], name=op.f('fk_sign_in_operation_id')),
    sa.PrimaryKeyConstraint('operation_id', 'digest', name=op.f('pk_sign_in'))
    )
    op.create_index('ix_sign_in_person', 'sign_in', ['operation_id', 'person_id'], unique=False)

    for statement in RULES[op.get_bind().dialect.name]:
        op.execute(sa.text(statement.replace(":", "\\:")))


def downgrade() -> None:
    raise NotImplementedError("accounts are not taken out again; restore a copy from before")


# the rules as they were when this migration was made, never edited
RULES = {
    "sqlite": [
        f"CREATE TRIGGER account_event_kept_{event.lower()} BEFORE {event} ON account_event"
        f" WHEN 1 = 1 BEGIN SELECT RAISE(ABORT, '{KEPT}'); END"
        for event in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        sql
        for event, row in (("UPDATE", "NEW"), ("DELETE", "OLD"))
        for sql in (
            f"CREATE FUNCTION account_event_kept_{event.lower()}() RETURNS trigger"
            f" LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '%', '{KEPT}'"
            f" USING ERRCODE = 'integrity_constraint_violation'; RETURN {row}; END $$",
            f"CREATE TRIGGER account_event_kept_{event.lower()} BEFORE {event} ON account_event"
            f" FOR EACH ROW EXECUTE FUNCTION account_event_kept_{event.lower()}()",
        )
    ]
    + [
        sql
        for table in TABLES
        for sql in (
            f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY",
            f"CREATE POLICY own ON {table} USING"
            " (operation_id = current_setting('benchwalk.operation')::smallint)",
        )
    ],
}
