"""A job in which every free text is an attack: scripts, entities, marks that turn text round, names without an end.

Everything in it is invented. ``MARK`` is in every text, so that a test can tell that the text was shown at all.
"""

from __future__ import annotations

import json
from pathlib import Path

MARK = "Zx9"
SCRIPT = f"</style></script><script>window.pwned=1</script><img src=//evil.invalid/{MARK} onerror=window.pwned=1>"
ATTRIBUTE = f'"\' onmouseover=window.pwned=1 x="{MARK}'
ENTITY = f"&lt;script&gt;{MARK}&#x3c;b&#62; {{{{ 7*7 }}}} {{% raw %}}"
TURNED = f"\N{RIGHT-TO-LEFT OVERRIDE}{MARK}\N{POP DIRECTIONAL FORMATTING}\N{RIGHT-TO-LEFT MARK}שלום"
LONG = f"{MARK}" + "W" * 9997
STYLE = f"}}body{{background:url(//evil.invalid/{MARK})}}"
TEXTS = (SCRIPT, ATTRIBUTE, ENTITY, TURNED, LONG, STYLE, f"=cmd|' /c calc'!A0 {MARK}", f"javascript:pwned=1//{MARK}")


def text(n: int) -> str:
    return json.dumps(TEXTS[n % len(TEXTS)], ensure_ascii=False)


def write(folder: Path, faults: int = 8) -> Path:
    """The job folder: dangerous, major and minor faults with causes, a check, own and workshop repairs, two shops."""
    folder.mkdir(parents=True)
    parts, rows = [], []
    for n in range(faults):
        severity = ("dangerous", "major", "minor")[n % 3]
        look = f"""
  [[fault.check]]
  id = "look"
  title = {text(n + 1)}
  minutes = 5
    [fault.check.results]
    tight = {{ worn = 0.1, seized = 0.95, something-else = 0.5 }}"""
        rows.append(
            f"""
[[fault]]
id = "fault-{n}"
title = {text(n)}
severity = "{severity}"
system = "brakes"
  [fault.causes]
  worn = 3
  seized = 1
{look if n % 2 else ""}
  [[fault.repair]]
  id = "renew"
  title = {text(n + 2)}
  cures = {{ worn = 0.95 }}
  parts = {{ part-{n} = 1 }}
  minutes = 40
  [[fault.repair]]
  id = "free"
  title = {text(n + 3)}
  cures = {{ seized = 0.9 }}
  price = "8.00"
  by = "workshop"
"""
        )
        parts.append(f'[[part]]\nid = "part-{n}"\ntitle = {text(n + 4)}\nkind = "free"\n')
    head = f'[job]\ntitle = {text(0)}\ncurrency = "GBP"\ntoday = 2026-11-24\n[money]\ncap = "{20 * faults}.00"\n'
    (folder / "job.toml").write_text(head + "\n".join((*parts, *rows)), encoding="utf-8")
    sheet = ["part,supplier,condition,price,ref,note"]
    for n in range(faults):
        for shop, condition, price in (("shop-a", "new", 14), ("shop-b", "salvage", 6)):
            ref, note = (TEXTS[k % len(TEXTS)].replace('"', '""') for k in (n, n + 1))
            sheet.append(f'part-{n},{shop},{condition},{price}.00,"{ref}","{note}"')
    (folder / "quotes.csv").write_text("\n".join(sheet) + "\n", encoding="utf-8")
    titles = [TEXTS[n].replace('"', '""') for n in (0, 4)]
    shops = "\n".join(f'shop-{x},"{title}",3.00' for x, title in zip("ab", titles))
    (folder / "suppliers.csv").write_text(f"supplier,title,postage\n{shops}\n", encoding="utf-8")
    return folder
