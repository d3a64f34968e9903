"""The rules of the trade, pure functions on frozen facts: stages, thickness, budget, advice, plan, tables."""
