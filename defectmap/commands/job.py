"""`defectmap job …`: which commands there are, in the order of the help."""

from __future__ import annotations

from defectmap.commands import job_car, job_entries, job_looking, job_notes, job_plan, job_results, job_steps
from defectmap.commands.job_shared import record_group
from defectmap.commands.job_style import style

app = record_group("Keep the job record: panels, stages, photographs, steps.")
app.command()(job_entries.create)
app.command("list")(job_entries.list_jobs)
app.command("panel")(job_entries.panel_details)
app.command()(job_entries.photographs)
app.command()(job_steps.readings)
app.command()(job_entries.shop)
app.command()(style)
app.command()(job_steps.step)
app.command()(job_notes.stage)
app.command()(job_notes.note)
app.command()(job_notes.checklist)
app.command("set-aside")(job_notes.set_aside)
app.command()(job_looking.status)
app.command()(job_plan.agree)
app.command()(job_results.measure)
app.command()(job_results.compare)
app.command("next")(job_looking.next_step)
app.command()(job_looking.budget)
app.command()(job_plan.plan)
app.command()(job_results.export)
app.command("import")(job_results.import_file)
app.command()(job_results.verify)
app.command()(job_looking.tables)
app.command()(job_car.change)
app.command()(job_car.damage)
app.command()(job_car.damages)
app.command()(job_car.sign)
app.command()(job_car.start)
app.command()(job_car.explain)
app.command()(job_car.memory)
app.command()(job_car.paper)
