"""A browser and a network address in words that a coach knows; what the browser itself sent is not kept."""

from __future__ import annotations

import ipaddress

from django.utils.translation import gettext as _

#: What stands in a browser's User-Agent (RFC 9110, 10.1.5): the first that is found counts, since most of them also claim
#: to be their forerunners. The words themselves from memory.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("CrOS", "ChromeOS"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("Linux", "Linux"),
)
_HOUSE = tuple(map(ipaddress.ip_network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16")))
_HOUSE_6 = tuple(map(ipaddress.ip_network, ("fc00::/7", "fe80::/10")))


def browser_words(user_agent: str) -> str:
    """Of what a browser calls itself. Anybody can claim anything: it helps to recognise one's own, and proves nothing.

    >>> browser_words("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:128.0) Gecko/20100101 Firefox/128.0")
    'Firefox on Windows'
    """
    browser = next((words for mark, words in _BROWSERS if mark in user_agent), "")
    system = next((words for mark, words in _SYSTEMS if mark in user_agent), "")
    if not browser:
        return f"A browser on {system}" if system else "A browser that does not say which it is"
    return f"{browser} on {system}" if system else browser


def browser_said(kept: str) -> str:
    """What ``browser_words`` made, which is kept, in the language of the page."""
    browser, on, system = kept.partition(" on ")
    if browser == "A browser":
        return _("A browser on %(system)s") % {"system": system}
    if not on:
        return _("A browser that does not say which it is") if kept.startswith("A browser that") else kept
    return _("%(browser)s on %(system)s") % {"browser": browser, "system": system}


def place_words(source: str) -> str:
    """A network address as a place (RFC 1918, RFC 3927, RFC 4193 and RFC 4291 for those of a house's own network).

    >>> place_words("192.168.1.20")
    'a local network (192.168.1.20)'
    """
    try:
        address = ipaddress.ip_address(source)
    except ValueError:
        return _("an address that is not known")
    if address.is_loopback:
        return _("the computer that helmroom runs on")
    house = any(address in network for network in (_HOUSE if address.version == 4 else _HOUSE_6))
    said = _("a local network (%(address)s)") if house else _("the internet (%(address)s)")
    return said % {"address": address}
