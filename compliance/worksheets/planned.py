"""A planning figure in the working of a worksheet, with where it comes from."""

from compliance.findings import Step
from compliance.settings import SETTINGS, Settings
from compliance.worksheets.columns import line


def planned(name: str, value: float) -> Step:
    """
    Show a figure that was put in, with the table's mark where it is the table's.

    Parameters
    ----------
    name : str
        The figure's name in ``SETTINGS``.
    value : float
        What was put in, in the unit of the figure.

    Returns
    -------
    Step
        One line of working; a figure of one's own is marked as given.
    """
    setting, unit = SETTINGS[name], SETTINGS[name].unit
    unit = {"1": "", "C": "°C"}.get(unit, unit)
    if value != setting.default:
        said = f"as given; {setting.default:g} is planned with otherwise"
        return line(setting.label, said, value, unit, "as given", "given")
    known = Settings()
    source, mark = known.source(name), known.mark(name)
    return line(setting.label, "planning figure", value, unit, source, mark)
