"""The keyword arguments of the Python call, typed; a test holds them equal to the table of keys."""

from __future__ import annotations

from typing import TypedDict

from filmstress.records.quantity import Measured

Value = str | Measured
"""A text with a unit, as on the command line, or a quantity already in SI."""


class Arguments(TypedDict, total=False):
    """Everything that may be stated about one measurement; all of it optional here."""

    substrate: str
    azimuth_reference: str
    diameter: Value
    substrate_thickness: Value
    miscut: Value
    substrate_youngs_modulus: Value
    substrate_poisson_ratio: Value | float
    substrate_modulus: Value
    substrate_density: Value
    film_material: str
    film_thickness: Value
    film_modulus: Value
    film_youngs_modulus: Value
    film_poisson_ratio: Value | float
    film_face: str
    film_faces: str
    film_uncoated_ring: Value
    film_thickness_profile: Value | float
    azimuth: Value
    support: str
    support_radius: Value
    support_azimuth: Value
    origin: Value
    window: str
    offset: Value
    bow_repeatability: Value
    offset_repeatability: Value
    line_repeatability: Value
    position_scale_uncertainty: Value | float
    height_scale_uncertainty: Value | float
    datum: str
    height_up: bool | str
    position_unit: str
    height_unit: str
    decimal: str
    columns: str
    interval: Value
    trace: str
    instrument: str
    operator: str
    date: str
    temperature: str
    bare_bow: Value
    reference: str
    weight_first: str
    weight_second: str
    gravity: Value
    role: str
    pre_azimuth: Value
    post_azimuth: Value
    pre_support: str
    post_support: str
    pre_support_radius: Value
    post_support_radius: Value
    pre_support_azimuth: Value
    post_support_azimuth: Value
    pre_origin: Value
    post_origin: Value
    pre_window: str
    post_window: str
    pre_offset: Value
    post_offset: Value
    pre_bow_repeatability: Value
    post_bow_repeatability: Value
    pre_offset_repeatability: Value
    post_offset_repeatability: Value
    pre_line_repeatability: Value
    post_line_repeatability: Value
    pre_position_scale_uncertainty: Value | float
    post_position_scale_uncertainty: Value | float
    pre_height_scale_uncertainty: Value | float
    post_height_scale_uncertainty: Value | float
    pre_datum: str
    post_datum: str
    pre_height_up: bool | str
    post_height_up: bool | str
    pre_position_unit: str
    post_position_unit: str
    pre_height_unit: str
    post_height_unit: str
    pre_decimal: str
    post_decimal: str
    pre_columns: str
    post_columns: str
    pre_interval: Value
    post_interval: Value
    pre_trace: str
    post_trace: str
    pre_instrument: str
    post_instrument: str
    pre_operator: str
    post_operator: str
    pre_date: str
    post_date: str
    pre_temperature: str
    post_temperature: str
    weight_first_azimuth: Value
    weight_first_support: str
    weight_first_support_radius: Value
    weight_first_support_azimuth: Value
    weight_first_origin: Value
    weight_first_window: str
    weight_first_offset: Value
    weight_first_bow_repeatability: Value
    weight_first_offset_repeatability: Value
    weight_first_line_repeatability: Value
    weight_first_position_scale_uncertainty: Value | float
    weight_first_height_scale_uncertainty: Value | float
    weight_first_datum: str
    weight_first_height_up: bool | str
    weight_first_position_unit: str
    weight_first_height_unit: str
    weight_first_decimal: str
    weight_first_columns: str
    weight_first_interval: Value
    weight_first_trace: str
    weight_first_instrument: str
    weight_first_operator: str
    weight_first_date: str
    weight_first_temperature: str
    weight_second_azimuth: Value
    weight_second_support: str
    weight_second_support_radius: Value
    weight_second_support_azimuth: Value
    weight_second_origin: Value
    weight_second_window: str
    weight_second_offset: Value
    weight_second_bow_repeatability: Value
    weight_second_offset_repeatability: Value
    weight_second_line_repeatability: Value
    weight_second_position_scale_uncertainty: Value | float
    weight_second_height_scale_uncertainty: Value | float
    weight_second_datum: str
    weight_second_height_up: bool | str
    weight_second_position_unit: str
    weight_second_height_unit: str
    weight_second_decimal: str
    weight_second_columns: str
    weight_second_interval: Value
    weight_second_trace: str
    weight_second_instrument: str
    weight_second_operator: str
    weight_second_date: str
    weight_second_temperature: str
