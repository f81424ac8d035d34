"""The programme: what a school's ensembles hold, kept and asked for. The shell of the house.

``models`` are the rows, ``actions`` what one person does (one transaction each),
``queries`` the frozen values a page shows, ``jobs`` the errands a worker runs,
``store`` the files kept by digest. Nothing here knows a web request.
"""
