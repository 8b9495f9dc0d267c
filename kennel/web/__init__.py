"""Pages for carers: the frame, forms made from record inputs, the menu, the offline shell.

No rule about dogs lives here.  In `apps.py` the apps add pages (`urls.add_page`), menu entries (`menu.add`),
pieces of the kennel's first page (`home.add_panel`), banners (`banners.add`) and files for the offline copy
(`shell.add_files`).
"""
