//! Run sheets that are wrong or odd, with what is to become of each.

/// Name, bytes, outcome, and what the message says.
pub type Sheet = (&'static str, Vec<u8>, &'static str, &'static str);

/// Text in 16-bit units, the low byte first, after its mark.
fn utf_16(text: &str) -> Vec<u8> {
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    units.flat_map(u16::to_le_bytes).collect()
}

fn deep(open: &str, close: &str, levels: usize) -> Vec<u8> {
    format!("x = {}1{}\n", open.repeat(levels), close.repeat(levels)).into()
}

fn car(line: &str) -> Vec<u8> {
    format!("[sticker]\ncolour = \"magenta\"\n[car]\n{line}\n").into()
}

fn whole(text: &str) -> Vec<u8> {
    text.into()
}

/// Texts that are no sheet.
pub fn texts() -> Vec<Sheet> {
    let good = "[sticker]\ncolour = \"magenta\"\n";
    let long = "magenta".repeat(100_000);
    vec![
        ("empty", Vec::new(), "measured", "Verdict"),
        ("white space", whole(" \n\t\n"), "measured", "Verdict"),
        ("good", whole(good), "measured", "Verdict"),
        (
            "windows line ends",
            whole(&good.replace('\n', "\r\n")),
            "measured",
            "Verdict",
        ),
        (
            "old line ends",
            whole(&good.replace('\n', "\r")),
            "refused",
            "line 1: not valid TOML",
        ),
        ("no line end", whole(good.trim_end()), "measured", "Verdict"),
        (
            "mark of byte order",
            [b"\xef\xbb\xbf", good.as_bytes()].concat(),
            "measured",
            "Verdict",
        ),
        (
            "two marks of byte order",
            [b"\xef\xbb\xbf\xef\xbb\xbf", good.as_bytes()].concat(),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "16-bit text",
            utf_16(good),
            "refused",
            "line 1: not UTF-8 text",
        ),
        (
            "latin 1",
            b"[car]\nname = \"B\xfchler\"\n".to_vec(),
            "refused",
            "line 2: not UTF-8 text",
        ),
        (
            "surrogates",
            b"[car]\nname = \"\xed\xa0\x80\"\n".to_vec(),
            "refused",
            "line 2: not UTF-8 text",
        ),
        (
            "zero bytes",
            vec![0; 4096],
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "a zero byte",
            whole("[car]\nname = \"a\0b\"\n"),
            "refused",
            "line 2: not valid TOML",
        ),
        (
            "control characters",
            whole("[car]\nname = \"a\x1b[31mb\"\n"),
            "refused",
            "line 2: not valid TOML",
        ),
        (
            "escaped control characters",
            car("name = \"a\\u001b[31mb\""),
            "refused",
            "line 4: `name` holds the control character U+001B",
        ),
        (
            "a line end in a name",
            car("name = \"a\\nb\""),
            "refused",
            "line 4: `name` holds the control character U+000A",
        ),
        (
            "a name that turns round",
            car("name = \"\u{202e}7 .oN\""),
            "measured",
            "Verdict",
        ),
        (
            "ten megabytes of comment",
            b"# long\n".repeat(1_500_000),
            "refused",
            "larger than 1024 KiB, so it is no run sheet",
        ),
        (
            "ten megabytes of zeros",
            vec![0; 10_000_000],
            "refused",
            "larger than 1024 KiB, so it is no run sheet",
        ),
        (
            "a long value",
            whole(&format!("[car]\nname = \"{long}\"\n")),
            "refused",
            "line 2: `name` has 700000 characters; at most 200 are kept",
        ),
        (
            "a long key",
            whole(&format!("{long} = 1\n")),
            "refused",
            "line 1: unknown key",
        ),
        (
            "a million brackets",
            b"[".repeat(1_000_000),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "deep lists",
            deep("[", "]", 10_000),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "deep tables",
            deep("{a=", "}", 10_000),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "deep keys",
            whole(&format!("{}a = 1\n", "a.".repeat(100_000))),
            "refused",
            "not valid TOML: recursion limit",
        ),
        (
            "deep heads",
            whole(&format!("[{}a]\n", "a.".repeat(100_000))),
            "refused",
            "not valid TOML: recursion limit",
        ),
        (
            "another language",
            whole("{\"sticker\": {\"colour\": \"magenta\"}}"),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "a clip",
            b"\0\0\0\x18ftypmp42\0\0\0\0".to_vec(),
            "refused",
            "line 1: not valid TOML",
        ),
        (
            "a key twice",
            car("mass_g = 190\nmass_g = 200"),
            "refused",
            "duplicate key",
        ),
        (
            "a table twice",
            whole("[car]\n[sticker]\ncolour = \"magenta\"\n[car]\n"),
            "refused",
            "duplicate key",
        ),
        (
            "a table and a list",
            whole("[car]\n[[car]]\n"),
            "refused",
            "duplicate key",
        ),
        (
            "an open text",
            car("name = \"No. 7"),
            "refused",
            "line 4: not valid TOML",
        ),
        (
            "a date",
            car("name = 2026-11-27"),
            "refused",
            "line 4: `name` is a date or time, where a text is wanted",
        ),
        (
            "many floor marks",
            [
                good,
                &"[[floor_mark]]\ncolour = \"blue\"\nx_mm = 1.0\ny_mm = 2.0\n".repeat(15_000),
            ]
            .concat()
            .into(),
            "refused",
            "line 7: a second floor mark at x_mm = 1, y_mm = 2",
        ),
    ]
}

/// Numbers and keys that no car has.
pub fn values() -> Vec<Sheet> {
    let rows = [
        (
            "mass_g = nan",
            "refused",
            "line 4: `mass_g = nan` is not a finite number",
        ),
        (
            "mass_g = inf",
            "refused",
            "line 4: `mass_g = inf` is not a finite number",
        ),
        (
            "mass_g = -inf",
            "refused",
            "line 4: `mass_g = -inf` is not a finite number",
        ),
        (
            "mass_g = 1e308",
            "refused",
            "line 4: `mass_g = 1e308` is not between 5 and 20000 grams; usual are 50 to",
        ),
        (
            "mass_g = 1e309",
            "refused",
            "line 4: `mass_g = 1e309` is not a finite number",
        ),
        (
            "mass_g = 1e-308",
            "refused",
            "line 4: `mass_g = 1e-308` is not between 5 and 20000 grams; usual are 50 to",
        ),
        (
            "mass_g = -190",
            "refused",
            "line 4: `mass_g = -190` must be greater than zero",
        ),
        (
            "mass_g = -0.0",
            "refused",
            "line 4: `mass_g = -0.0` must be greater than zero",
        ),
        (
            "mass_g = 9223372036854775807",
            "refused",
            "line 4: `mass_g = 9223372036854775807` is not between 5 and 20000 grams;",
        ),
        (
            "mass_g = 9223372036854775808",
            "refused",
            "line 4: `mass_g = 9223372036854775808` is not between 5 and 20000 grams;",
        ),
        (
            "mass_g = 0xffffffffffffffff",
            "refused",
            "line 4: `mass_g` is a number of too many digits, where a number is wanted",
        ),
        ("mass_g = 1_9_0", "measured", "Verdict"),
        (
            "mass_g = \"190\"",
            "refused",
            "line 4: `mass_g` is a text in quotes, where a number is wanted",
        ),
        (
            "mass_g = \"190 g\"",
            "refused",
            "line 4: `mass_g` is a text in quotes, where a number is wanted",
        ),
        ("mass_g = 190,5", "refused", "line 4: not valid TOML"),
        (
            "mass_g = [190]",
            "refused",
            "line 4: `mass_g` is a list, where a number is wanted",
        ),
        (
            "mass_g = { value = 190 }",
            "refused",
            "line 4: `mass_g` is a table, where a number is wanted",
        ),
        (
            "mass_g = true",
            "refused",
            "line 4: `mass_g` is true or false, where a number is wanted",
        ),
        ("mass_g =", "refused", "line 4: not valid TOML"),
        (
            "weight_g = 190",
            "refused",
            "line 4: unknown key `weight_g` in [car]; the nearest known one is",
        ),
        (
            "wheel_diametre_mm = 96",
            "refused",
            "line 4: unknown key `wheel_diametre_mm` in [car]; the nearest known one is",
        ),
        (
            "wheel_diameter_cm = 9.6",
            "refused",
            "line 4: unknown key `wheel_diameter_cm` in [car]; lengths here are",
        ),
        (
            "wheel_diameter_mm = 0.096",
            "refused",
            "looks like metres; lengths here are millimetres",
        ),
        (
            "\"\" = 1",
            "refused",
            "line 4: unknown key `` in [car]; the nearest known one is `name`",
        ),
        (
            "\"mass_g\\n\" = 190",
            "refused",
            "line 4: unknown key `mass_g; ` in [car]; the nearest known one is `mass_g`",
        ),
        (
            "facing_side = \"front\"",
            "refused",
            "line 4: `facing_side = \"front\"` is not one of left, right",
        ),
        (
            "driven_share = 1.0000001",
            "refused",
            "line 4: `driven_share = 1.0000001`",
        ),
        (
            "string_mm = 1e-300\naxle_diameter_mm = 1e300",
            "refused",
            "line 4: `string_mm = 1e-300` is not between 20 and 10000 millimetres; usual",
        ),
        ("name = \"\"", "measured", "Verdict"),
    ];
    let sheet = |(line, outcome, says): (&'static str, &'static str, &'static str)| {
        (line, car(line), outcome, says)
    };
    rows.map(sheet).into()
}

/// Places and lines that cannot be.
pub fn places() -> Vec<Sheet> {
    let good = "[sticker]\ncolour = \"magenta\"\n";
    let rows = [
        (
            "a colour of none",
            "[sticker]\ncolour = \"plaid\"\n",
            "refused",
            "line 2: `colour = \"plaid\"` is not one of magenta, red, orange, yellow,",
        ),
        (
            "a number for a colour",
            "[sticker]\ncolour = 7\n",
            "refused",
            "line 2: `colour` is a number, where a text is wanted",
        ),
        (
            "a place outside the picture",
            "at_px = [1e6, -1e6]\n",
            "refused",
            "line 3: `at_px = 1e6` is not between -0.5 and 16384 pixels",
        ),
        (
            "a place at no number",
            "at_px = [nan, 3]\n",
            "refused",
            "line 3: `at_px = nan` is not a finite number",
        ),
        (
            "a place with three numbers",
            "at_px = [1, 2, 3]\n",
            "refused",
            "line 3: `at_px` is a list of something else, where two numbers is wanted",
        ),
        (
            "a time without a place",
            "at_s = 1.0\n",
            "refused",
            "line 1: [sticker] has no `at_px`",
        ),
        (
            "a time before the clip",
            "at_px = [20, 40]\nat_s = -1.0\n",
            "refused",
            "line 4: `at_s = -1.0` must not be negative",
        ),
        (
            "a time after the clip",
            "at_px = [20, 40]\nat_s = 1e6\n",
            "refused",
            "line 4: `at_s = 1e6` is not between 0 and 86400 seconds",
        ),
        (
            "an aim of no length",
            "[aim]\nfrom_mm = [0, 0]\nto_mm = [0, 0]\n",
            "refused",
            "line 5: the aim line begins and ends at the same place",
        ),
        (
            "an aim with one end",
            "[aim]\nfrom_mm = [0, 0]\n",
            "refused",
            "line 3: [aim] has no `to_mm`",
        ),
        (
            "marks on one another",
            "[[floor_mark]]\ncolour=\"blue\"\nx_mm=0\ny_mm=0\n[[floor_mark]]\ncolour=\"blue\"\nx_mm=0\ny_mm=0\n",
            "refused",
            "line 7: a second floor mark at x_mm = 0, y_mm = 0",
        ),
        (
            "a mark at no place",
            "[[floor_mark]]\ncolour=\"blue\"\n",
            "refused",
            "line 3: [floor_mark] has no `x_mm`",
        ),
        (
            "marks far off",
            "[[floor_mark]]\ncolour=\"blue\"\nx_mm=1e9\ny_mm=0\n",
            "refused",
            "line 5: `x_mm = 1e9` is not within 100000 millimetres of zero",
        ),
        (
            "a rate of none",
            "[camera]\ncapture_fps = 0\n",
            "refused",
            "line 4: `capture_fps = 0` must be greater than zero",
        ),
        (
            "a rate below the clip's",
            "[camera]\ncapture_fps = 1.0\n",
            "measured",
            "Verdict",
        ),
        (
            "a readout longer than a frame",
            "[camera]\nreadout_ms = 90\n",
            "measured",
            "Verdict",
        ),
        (
            "a lens of none",
            "[camera]\nk1 = 1e300\n",
            "refused",
            "line 4: `k1 = 1e300` is not within 1 of zero",
        ),
        (
            "a wheel mark in the sticker's colour",
            "[wheel_mark]\ncolour = \"magenta\"\n",
            "refused",
            "the sticker and the wheel mark are both magenta: nothing tel",
        ),
        (
            "a table of none",
            "[engine]\npower_w = 3\n",
            "refused",
            "line 3: unknown table `engine` at the top of the sheet; the nearest known one",
        ),
    ];
    let sheet = |(name, text, outcome, says): (&'static str, &str, &'static str, &'static str)| {
        let text = if text.starts_with("[sticker]") {
            text.to_owned()
        } else {
            format!("{good}{text}")
        };
        (name, text.into_bytes(), outcome, says)
    };
    rows.map(sheet).into()
}
