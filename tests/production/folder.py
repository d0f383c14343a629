"""A small folder of records that is right in every cell, and ways to put something wrong into it."""

from __future__ import annotations

from pathlib import Path

FILES = {
    "stores.csv": """code,name
BAJA,Lower store
""",
    "vessels.csv": """code,kind,capacity_l
T1,tank,2400
WS,wash_still,2500
SS,spirit_still,900
V1,vat,500
""",
    "casks.csv": """code,wood,capacity_l,tare_kg
C-1,used oak,200,45
C-2,used oak,200,
""",
    "fields.csv": """code,variety,area_m2
HILL,striped,12000
""",
    "loads.csv": """code,cut_on,milled_at,cane_kg,juice_l,brix
L-1,2026-06-01,2026-06-01 08:00,3000,1700,16
""",
    "washes.csv": """code,tank,set_at,ended_at,volume_l
W-1,T1,2026-06-01 10:00,2026-06-05 07:00,1700
""",
    "wash_readings.csv": """wash,at,kind,value,temperature_c
W-1,2026-06-01 10:30,gravity,1.0630,30
W-1,2026-06-05 06:30,gravity,0.9960,30
W-1,2026-06-05 06:30,ph,4.3,
""",
    "runs.csv": """code,still,kind,started_at,ended_at
WR-1,WS,wash,2026-06-05 07:00,2026-06-05 13:00
SR-1,SS,spirit,2026-06-06 07:00,2026-06-06 14:00
""",
    "run_readings.csv": """run,at,cut,collected_l,scale,reading,temperature_c
SR-1,2026-06-06 07:30,heads,2,density_meter,79,28
SR-1,2026-06-06 08:00,hearts,6,density_meter,77,28
SR-1,2026-06-06 11:00,tails,156,density_meter,62,28
SR-1,2026-06-06 13:30,tails,256,density_meter,10,28
""",
    "receivers.csv": """code,run,cut,gauged_at,volume_l,volume_temperature_c,scale,reading,temperature_c,fate
WR-1-LW,WR-1,low_wines,2026-06-05 13:20,530,20,density_meter,27,28,tank
SR-1-HD,SR-1,heads,2026-06-06 14:20,5,20,density_meter,78,28,feints
SR-1-HT,SR-1,hearts,2026-06-06 14:20,150,20,density_meter,72,28,cask
SR-1-TL,SR-1,tails,2026-06-06 14:20,100,20,density_meter,25,28,feints
""",
    "received.csv": """code,kind,what,origin,document,received_on
GIN-1,fruit,ginger root,Hill farm,,2026-06-02
""",
    "blends.csv": """code,vat,made_at,volume_l,volume_temperature_c,scale,reading,temperature_c
VAT-1,V1,2026-06-09 09:00,2,20,density_meter,60,28
""",
    "lots.csv": """code,product,bottled_on,bottles,bottle_ml,abv_percent,solids_g_per_l,strength_basis
BL-1,blanco,2026-06-10,37,750,40,,distilled
""",
    "fills.csv": """code,cask,store,filled_at,emptied_at
F-1,C-1,BAJA,2026-06-08 10:00,
""",
    "gauges.csv": """fill,at,how,volume_l,volume_temperature_c,gross_kg,scale,reading,temperature_c
F-1,2026-06-08 10:00,dip,160,20,,density_meter,60,28
F-1,2026-06-12 10:00,weight,,,187.5,density_meter,60,28
""",
    "cask_events.csv": """fill,at,kind,volume_l,volume_temperature_c,scale,reading,temperature_c,to_store
F-1,2026-06-13 10:00,sample,0.5,20,density_meter,60,28,
""",
    "draws.csv": """from_kind,from,to_kind,to,at,cane_kg,sugar_kg,alcohol_l,volume_l
field,HILL,load,L-1,2026-06-01 08:00,3000,,,
load,L-1,wash,W-1,2026-06-01 10:00,,289,,1700
wash,W-1,run,WR-1,2026-06-05 07:00,,,148,1700
run,WR-1,receiver,WR-1-LW,2026-06-05 13:20,,,143.1,530
receiver,WR-1-LW,run,SR-1,2026-06-06 07:00,,,143.1,530
run,SR-1,receiver,SR-1-HD,2026-06-06 14:20,,,3.9,5
run,SR-1,receiver,SR-1-HT,2026-06-06 14:20,,,108,150
run,SR-1,receiver,SR-1-TL,2026-06-06 14:20,,,25,100
receiver,SR-1-HT,fill,F-1,2026-06-08 10:00,,,96,160
receiver,SR-1-HT,lot,BL-1,2026-06-10 09:00,,,11.5,
receiver,SR-1-HD,blend,VAT-1,2026-06-09 09:00,,,1.2,
""",
}


def write(folder: Path, *changes: tuple[str, str, str], leave_out: tuple[str, ...] = ()) -> Path:
    """Write the files, each (file, old, new) of `changes` put in place, and return the folder.

    With nothing old the new stands at the end of the file, which may be a new one.
    """
    texts = {name: text for name, text in FILES.items() if name not in leave_out}
    for file, old, new in changes:
        if old and old not in texts[file]:
            raise ValueError(f"{file} does not hold {old!r}")
        texts[file] = texts[file].replace(old, new) if old else texts.get(file, "") + new
    folder.mkdir(exist_ok=True)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder
