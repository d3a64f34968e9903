"""Which vehicle a job is of: one that was here before, or a new one; whose it is; and its life so far."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.record.jobs import change_job, job_named
from defectmap.record.life import life_of
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.vehicles import (
    add_vehicle,
    all_vehicles,
    attach,
    forget_keeper,
    jobs_of,
    keeper_of,
    put_keeper,
    vehicle_of,
)
from defectmap.trade.facts import KeeperRecord, VehicleRecord
from defectmap.trade.surface import PAINTS
from defectmap.words.counting import counted
from defectmap.words.page_words import plain


def vehicle_choice(desk: frame.Desk) -> None:
    """Draw it: the fields while no vehicle is known, else what is known of it behind doors."""
    car = vehicle_of(desk.store, desk.job)
    if car is None:
        with st.expander("Which vehicle is it?", icon=":material/directions_car:", expanded=True):
            _known(desk)
            _new(desk)
        return
    visits = jobs_of(desk.store, car.name)
    said = ", ".join(filter(None, (car.make, car.colour, car.paint)))
    st.markdown(f"**{plain(car.name)}** · {plain(said)} · {counted(len(visits), 'visit')}")
    with st.expander("Whose it is", icon=":material/person:"):
        _keeper(desk, car)
    if len(visits) > 1:
        with st.expander("Its life so far", icon=":material/history:"):
            _life(desk, car)


def _known(desk: frame.Desk) -> None:
    names = [car.name for car in all_vehicles(desk.store)]
    if not names:
        return
    name = st.selectbox("Here before", names, index=None, placeholder="Choose", key="arrival_vehicle")
    if st.button("This one", disabled=name is None, key="arrival_this") and name:
        with frame.guarded():
            attach(desk.store, desk.reference, name)
            st.rerun()


def _new(desk: frame.Desk) -> None:
    with st.form("arrival_new", border=False):
        name = st.text_input("New: what the shop calls it", desk.job.vehicle, max_chars=80)
        make = st.text_input("Make and model (optional)", max_chars=80)
        colour = st.text_input("Colour", desk.job.colour, max_chars=40)
        paint = st.selectbox("Paint", PAINTS, index=PAINTS.index(desk.job.paint))
        if st.form_submit_button("Keep the vehicle", type="primary"):
            with frame.guarded():
                kind = desk.job.kind
                car = add_vehicle(
                    desk.store, name, kind=kind, make=make.strip(), colour=colour.strip(), paint=paint
                )
                attach(desk.store, desk.reference, car.name)
                _paint_of_job(desk, paint)
                st.rerun()


def _paint_of_job(desk: frame.Desk, paint: str) -> None:
    """What the paint is decides what may be offered: the job learns it too."""
    now = job_named(desk.store, desk.reference)
    if now.paint != paint:
        change_job(desk.store, desk.reference, seen_version=now.version, paint=paint)


def _keeper(desk: frame.Desk, car: VehicleRecord) -> None:
    known = keeper_of(desk.store, car.name)
    shown = known or KeeperRecord()
    st.caption("Kept apart from the photographs, never in an export unless asked, deleted on request.")
    with st.form("arrival_keeper", border=False):
        name = st.text_input("Name", shown.name, max_chars=80)
        contact = st.text_input("Telephone, mail or address", shown.contact, max_chars=120)
        plate = st.text_input("Number plate (only if you want it kept)", shown.plate, max_chars=20)
        if st.form_submit_button("Keep"):
            put_keeper(desk.store, car.name, name=name.strip(), contact=contact.strip(), plate=plate.strip())
            st.rerun()
    if known is not None:
        sure = st.checkbox("Delete all of this, with every signature, for good", key="arrival_sure")
        if st.button("Delete", disabled=not sure, key="arrival_forget"):
            forget_keeper(desk.store, car.name)
            st.rerun()


def _life(desk: frame.Desk, car: VehicleRecord) -> None:
    writer = screen_writer(desk.store)
    life = life_of(desk.store, car.name, tables_of(desk.store))
    if life.panels:
        st.table(
            {
                "Panel": [plain(one.panel) for one in life.panels],
                "Came off so far": [writer.films(one.spent_um.low, one.spent_um.high) for one in life.panels],
                "May still come off": [writer.film(one.left_um, 1) for one in life.panels],
            },
            border="horizontal",
        )
    if life.readings:
        st.table(
            {
                "Day": [writer.day(one.at) for one in life.readings],
                "Place": [plain(f"{one.panel}, {one.place}") for one in life.readings],
                "Thinnest": [writer.film(one.lowest_um) for one in life.readings],
            },
            border="horizontal",
        )
