"""Who may come in: people with their secrets, links, sign-ins, phones, and what was done with them.

Nothing of this is in the ledger: secrets change and must be erasable. What was done is kept in
`account_event`, which is only added to.
"""
