"""What a browser says of itself, in two words. It may say what it likes, so this only helps to know one's own again."""

from typing import Final

# In this order: many a browser also names those that it wants to be taken for.
BROWSERS: Final = {"Edg": "Edge", "OPR/": "Opera", "Firefox/": "Firefox", "Chrom": "Chrome", "Safari/": "Safari"}
SYSTEMS: Final = {
    "iPhone": "iPhone", "iPad": "iPad", "Android": "Android", "Windows": "Windows", "Mac OS X": "Mac",
    "CrOS": "ChromeOS", "Linux": "Linux",
}  # fmt: skip


def say_browser(user_agent: str) -> str:
    """“Firefox on Windows”; “another program” for what names neither."""
    browser = next((name for mark, name in BROWSERS.items() if mark in user_agent), "")
    system = next((name for mark, name in SYSTEMS.items() if mark in user_agent), "")
    return f"{browser} on {system}" if browser and system else browser or system or "another program"
