"""All that the database holds of one operation: the oracle of what leaves and comes back."""

import sqlalchemy as sa

import benchwalk.records as r


def rows(engine, operation):
    """Every row of every table of one operation, as plain values; its local number left out."""
    held = {}
    with engine.connect() as c:
        for table in r.Base.metadata.sorted_tables:
            number = table.c.id if table.name == "operation" else table.c.operation_id
            columns = [column for column in table.c if column is not number]
            found = c.execute(sa.select(*columns).where(number == operation))
            held[table.name] = sorted((tuple(row) for row in found), key=repr)
    return held
