"""The job: a record that loses nothing, the next step, and what the clear coat still allows.

- The record (one folder, see `store`): `jobs`, `notes`, `entries` (readings, steps, stages), `intake`
  (photographs), `measuring`, `comparing`, `corrections`; read back with `overview`, `history`, `keeping`.
- Its safety: `originals` (kept by hash), `verifying`, `transfer` (one file out and in), `database` and its
  `migrations`.
- The rules of the trade, pure functions on frozen records: `stages` (gates and claims), `thickness`,
  `budget`, `judging`, `advice`, `plan`; `panelstate` fetches what they look at, `tables` holds the shop's
  figures.
- The command line: `cli`, `cli_results`, and what they call.
"""
