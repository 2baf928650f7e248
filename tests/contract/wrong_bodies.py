"""Bodies that are JSON and yet wrong, each with the fault that must be reported."""

PATH = "/probe/dilutions"
STRENGTH = '"strength":{"basis":"element","element":"nitrogen","mg_per_l":100}'
PRODUCT = f'"product":"feed_20_20_20",{STRENGTH}'


def dilution(volume: str) -> str:
    return f'{{{PRODUCT},"volume_l":{volume}}}'


# body, pointer, code, what was received, a phrase of the detail
WRONG_BODIES = [
    (dilution("NaN"), "#/volume_l", "not_finite", "NaN", "finite"),
    (dilution("Infinity"), "#/volume_l", "not_finite", "Infinity", "finite"),
    (dilution("-Infinity"), "#/volume_l", "not_finite", "-Infinity", "finite"),
    (dilution("1e999"), "#/volume_l", "not_finite", "Infinity", "finite"),
    (dilution('"1e999"'), "#/volume_l", "not_finite", "1e999", "finite"),
    (dilution('"NaN"'), "#/volume_l", "not_finite", "NaN", "finite"),
    (dilution("true"), "#/volume_l", "boolean", True, "not true"),
    (dilution('"1_000"'), "#/volume_l", "digit_grouping", "1_000", "without grouping"),
    (dilution('"1,5"'), "#/volume_l", "decimal_comma", "1,5", "point"),
    (dilution('"1,234 L"'), "#/volume_l", "decimal_comma", "1,234 L", "point"),
    (dilution('"unavailable"'), "#/volume_l", "value_unavailable", "unavailable", "No value"),
    (dilution('"5 kg"'), "#/volume_l", "wrong_dimension", "5 kg", "mass"),
    (dilution('"5 bushels"'), "#/volume_l", "unknown_unit", "5 bushels", "bushels"),
    (dilution('"2*3"'), "#/volume_l", "expression", "2*3", "nothing is calculated"),
    (dilution("[1]"), "#/volume_l", "not_a_number", "a list of 1 item", "must be a number"),
    (dilution("{}"), "#/volume_l", "not_a_number", "an object of 0 fields", "must be a number"),
    (dilution("0"), "#/volume_l", "out_of_range", 0, "more than 0"),
    (dilution("-3"), "#/volume_l", "out_of_range", -3, "more than 0"),
    (dilution("1" + "0" * 400), "#/volume_l", "not_finite", "?", "finite"),
    (dilution('"1e9 L"'), "#/volume_l", "out_of_range", "1e9 L", "read as 1e+09"),
    (f"{{{PRODUCT}}}", "#/volume_l", "missing", None, "`volume_l` is missing"),
    (f'{{{PRODUCT},"volum_l":1}}', "#/volum_l", "unknown_field", 1, "Did you mean `volume_l`?"),
    (
        f'{{{PRODUCT},"volume_l":1,"instrument":{{}}}}',
        "#/instrument",
        "unknown_field",
        "an object of 0 fields",
        "Did you mean `instruments`?",
    ),
    (
        f'{{{PRODUCT},"volume_l":1,"water":{{"ec":0.5}}}}',
        "#/water/ec",
        "unknown_field",
        0.5,
        "Did you mean `ec_ms_per_cm`?",
    ),
    (
        f'{{{PRODUCT},"volume_l":1,"water":{{"a/b~c":1}}}}',
        "#/water/a~1b~0c",
        "unknown_field",
        1,
        "not a field here",
    ),
    (f'{{{PRODUCT},"volume_l":1,"water":"ran"}}', "#/water", "not_allowed", "ran", "`rain`"),
    (f'{{{PRODUCT},"volume_l":1,"water":7}}', "#/water", "unknown_basis", 7, "preset"),
    (
        '{"product":"feed_20_20_20","strength":{"basis":"elment"},"volume_l":1}',
        "#/strength/basis",
        "unknown_basis",
        "elment",
        "`element`",
    ),
    (
        '{"product":"x","strength":{"basis":"element","element":"N","mg_per_litre":1},"volume_l":1}',
        "#/strength/mg_per_litre",
        "unknown_field",
        1,
        "Did you mean `mg_per_l`?",
    ),
    (
        '{"product":"x","strength":{"basis":"element","element":"nitrogn","mg_per_l":1},'
        '"volume_l":1}',
        "#/strength/element",
        "not_allowed",
        "nitrogn",
        "Did you mean `nitrogen`?",
    ),
    (
        '{"product":"x","strength":{"basis":"meter_ppm","ppm":300,"scale":true},"volume_l":1}',
        "#/strength/scale",
        "boolean",
        True,
        "number",
    ),
    ('{"volume_l":1}', "#/product", "missing", None, "Give `product` or `products`."),
    ('{"product":"x","volume_l":1}', "#/strength", "missing", None, "Give `strength`."),
    (
        f'{{{PRODUCT},"volume_l":1,"products":[]}}',
        "#/products",
        "too_few",
        "a list of 0 items",
        "at least 1",
    ),
    (
        f'{{{PRODUCT},"volume_l":1,"products":[{{"product":"x",{STRENGTH}}}]}}',
        "#/products",
        "contradiction",
        "`product` and `products`",
        "cannot stand together",
    ),
    (
        '{"products":[{"product":"x",' + STRENGTH + "},{}]" + ',"volume_l":1}',
        "#/products/1/product",
        "missing",
        None,
        "`product` is missing",
    ),
    ("[]", "#", "not_an_object", "a list of 0 items", "An object is needed"),
    ("null", "#", "not_an_object", None, "An object is needed"),
    ("3", "#", "not_an_object", 3, "An object is needed"),
    ('"text"', "#", "not_an_object", "text", "An object is needed"),
]
