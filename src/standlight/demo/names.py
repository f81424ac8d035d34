"""Invented names for the demo: lists that are mixed by the seed; no pair is a real person."""

from __future__ import annotations

_GIVEN_NAMES = """
Abena Adaeze Aiyana Alma Amal Amaya Anouk Anselm Arjun Astrid Aurelio Ayla Bao Beatrix Benicio
Bettina Bodhi Bram Briar Calla Callum Camila Caspian Cato Cecily Chidi Cosmo Dalia Darius
Delphine Dmitri Edda Eero Eileen Elio Elspeth Emeka Enzo Esme Ezra Farah Felix Fern Fiona
Florian Gemma Gideon Giulia Greta Hana Hector Helena Hiro Hollis Ida Idris Ines Ingrid Isla Ivo
Jamal Jana Jasper Jia Joaquin Jolie Juniper Kaia Kamal Keiko Kiran Kofi Lars Leila Leocadia Levi
Linh Lorcan Lucia Luz Maeve Magnus Malik Mara Mateo Milo Miriam Nadia Naomi Nico Nils Noor Odile
Oren Oscar Otis Paloma Pavel Petra Philippa Priya Quentin Rafael Ravi Reza Rhea Rosalind Rowan
Ruben Sabine Samir Sanjay Saskia Selma Senna Silas Sofia Soren Talia Tamsin Tariq Thea Tobias
Tomas Uma Vera Viola Wanjiru Wes Willa Xavi Xiomara Yara Yuki Yusuf Zadie Zora
"""
GIVEN_NAMES = tuple(_GIVEN_NAMES.split())
"""Given names of several languages."""

_FAMILY_NAMES = """
Abara Achterberg Adeyemi Alvarado Amato Andrade Ashdown Balogun Banerjee Barrow Bellweather
Benitez Bergstrand Bhatt Bianchi Birchall Blomquist Bravo Brightwater Castellan Chaudhry
Chavarria Cho Coldbrook Corrigan Dang Delacroix Desrosiers Dinh Doucette Eastlake Ekwueme
Elsworth Engberg Escobedo Fairweather Farouk Fenwick Flores Galindo Gebre Goldwater Granholm
Greaves Guerrero Hadley Halloway Haverford Hoang Holmgren Huang Ibarra Iyer Jankowski Kalani
Kamara Kaplan Keita Kettleby Khoury Kowal Lachance Larkspur Lindgren Llewellyn Lockridge Lozano
Madrigal Mahmoud Marchetti Medrano Merriweather Mireles Moreau Nakagawa Nasser Nguyen Norling
Novak Nwosu Oakhurst Obi Okafor Olsson Ortega Osei Pacheco Pashley Pham Pinehurst Quintero Raman
Redfern Reyes Rosetti Sandoval Sato Savard Shirazi Silverlake Solano Stavros Stonebridge Suarez
Sundqvist Takahashi Thistlewood Tran Trujillo Underhill Valdivia Varga Vasquez Venkat Wetherby
Whitlock Wren Yamada Yilmaz Zamora Zelaya Zielinski
"""
FAMILY_NAMES = tuple(_FAMILY_NAMES.split())
"""Family names of several languages."""

SAME_SURNAME_PAIRS = (
    (("Maya", "Tran"), ("Mina", "Tran")),
    (("Jonas", "Okafor"), ("Imani", "Okafor")),
)
"""Two pairs who share a family name: one side by side in one section, one in two groups."""
