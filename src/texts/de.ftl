### Was Gripline sagt, auf Deutsch.

## Zahlen mit ihren Einheiten

interval = { $low } bis { $high }
between = { $low } und { $high }{ $unit }
unit-turns = Umdrehungen
unit-m-per-metre = m je Meter
unit-per-metre = je Meter
told = { $what }: { $value } ({ $interval })
told-unseen = { $what }: nicht beobachtbar, { $why }
told-side = { $told }, nach { $side ->
    [left] links
   *[right] rechts
}
told-signed = { $told }, nach links positiv
quoted = »{ $words }«
not-observable = nicht beobachtbar
cost-none = 0 mm (unter 1)
frame-at = Bild { $frame }

## Größen

key-release_s = erste Bewegung, nach dem ersten Bild des Videos
key-powered_s = Zeit vom Start bis zum Ende des Zugs
key-peak_speed_m_per_s = höchste Geschwindigkeit des Autos
key-distance_m = Weg, solange das Auto im Bild war
key-wheel_turns = Umdrehungen des Antriebsrads, solange es im Bild war
key-max_slip = größter Schlupf unter Zug: 0 rollt, 1 dreht auf der Stelle durch
key-spun_away_m = Weg, der durch durchdrehende Räder verloren ging
key-gain_without_slip_m = wie viel weiter das Auto ohne Durchdrehen rollen würde, bis es steht
key-rolling_radius_m = Rollradius des Antriebsrads
key-final_deviation_m = Abstand links von der Richtungslinie am Ende der Aufnahme
key-drift_m_per_m = Abweichung nach links je Meter Weg
key-aim_error_rad = Fahrtrichtung am Start gegen die Richtungslinie, nach links positiv
key-curvature_per_m = gleichmäßige Krümmung der Bahn, nach links positiv
key-implied_skew_rad = Winkel zwischen den Achsen, der diese Kurve lenken würde
key-wobble_m = seitliches Schlingern, einmal je Radumdrehung
key-string_slip_turns = Umdrehungen, die die Schnur hätte geben sollen, aber nicht gab
key-loose_wheel_turns = Umdrehungen der Achse, die ihr Rad nicht mitmachte
key-coast_deceleration_m_per_s2 = Verlust an Geschwindigkeit je Sekunde beim Ausrollen, bei dem Tempo am Ende der Schnur
key-rolling_resistance = Verlust beim Ausrollen als Anteil des Gewichts
key-grip_coefficient = Reibung unter den Antriebsrädern, während sie durchdrehen
key-energy_moving_car_j = Bewegungsenergie des Autos am Ende des Zugs, Joule
key-energy_lost_in_slip_j = Energie, die unter durchdrehenden Rädern verrieben wurde, Joule
key-energy_lost_rolling_j = Energie, die Rollen und Luft während des Zugs nahmen, Joule

## Woher ein Intervall kommt, und was dagegen hilft

input-sticker_height = die Höhe des Aufklebers
input-sticker_height-do = miss die Höhe des Aufklebers
input-sticker_ahead = der Abstand des Aufklebers von der Achse
input-sticker_ahead-do = miss, wie weit der Aufkleber vor der Antriebsachse sitzt
input-sticker_off_centre = der Abstand des Aufklebers von der Mittellinie
input-sticker_off_centre-do = miss, wie weit der Aufkleber von der Mittellinie sitzt
input-track_width = die Spurweite
input-track_width-do = miss die Spurweite
input-wheel_diameter = der Durchmesser des Rads
input-wheel_diameter-do = miss den Durchmesser des Antriebsrads
input-lens = die Verzeichnung des Objektivs
input-lens-do = filme mit dem Hauptobjektiv aus größerem Abstand, den Lauf in der Bildmitte
input-row_time = die Zeilenzeit des Sensors
input-row_time-do = gib `readout_ms` der Kamera an, oder filme mit mehr Bildern je Sekunde
input-mark_radius = der Abstand der Radmarke von der Nabe
input-mark_radius-do = miss den Abstand der Radmarke von der Nabe
input-floor_marks = die Plätze der Bodenmarken
input-floor_marks-do = miss die Plätze der Bodenmarken noch einmal, oder lege mehr davon weiter auseinander
input-pixel_noise = die Plätze der Marken im Bild
input-pixel_noise-do = filme näher, bei besserem Licht, mit größeren Marken
input-string_sizes = die Maße von Schnur und Achse
input-string_sizes-do = miss `string_mm`, `axle_diameter_mm` und `string_diameter_mm`
input-driven_share = der Anteil des Gewichts auf der Antriebsachse
input-driven_share-do = wiege die Antriebsachse und das ganze Auto noch einmal, das Auto waagerecht
input-plain_scale = der einfache Maßstab
input-plain_scale-do = lege vier oder mehr Bodenmarken an bekannte Plätze, nicht in eine Reihe
input-method = nicht durch Gemessenes erklärt

## Ursachen

cause-grip = Haftung
cause-alignment = Achsstellung
cause-aim = Ausrichtung
cause-wobble = Radschlag
cause-drive = Antrieb
cause-drag = Bremsen
cause-none = kein Fehler
cause-undetermined = offen
verdict-grip = Haftung - die Antriebsräder drehten auf der Stelle durch: der Zug kam nicht am Boden an
verdict-alignment = Achsstellung - das Auto lenkt sich selbst in eine gleichmäßige Kurve
verdict-aim = Ausrichtung - das Auto fuhr gerade, wurde aber schräg zur Linie aufgesetzt
verdict-wobble = Radschlag - ein Rad, das nicht gerade sitzt, lässt das Auto einmal je Umdrehung schlingern
verdict-drive = Antrieb - Umdrehungen der Schnur oder der Achse kamen nicht am Boden an
verdict-drag = Bremsen - etwas schleift, und das Auto rollt viel zu kurz aus
verdict-none = kein Fehler - es wurde kein Fehler gefunden
verdict-undetermined = offen - diese Aufnahme kann es nicht zeigen
unmeasured-clock = Die Zeiten des Videos oder die Maße können nicht stimmen.
unmeasured-path = Die Bahn des Autos ließ sich nicht auf den Boden übertragen.
check-clock = prüfe `[camera] capture_fps`, die Plätze der Bodenmarken und die Höhe des Aufklebers auf dem Laufzettel
check-path = prüfe die Plätze der Bodenmarken und die Höhe des Aufklebers auf dem Laufzettel

## Was es zeigt

because-max-slip = größter Schlupf unter Zug
because-spun = durch Durchdrehen verlorener Weg
because-spun-least = durch Durchdrehen verlorener Weg, solange das Rad im Bild war, also mindestens
because-skew = Schiefstellung der Achsen
because-heading = erste Fahrtrichtung gegen die Richtungslinie
because-off-line = am Ende der Aufnahme von der Linie ab
because-curve = gleichmäßige Kurve
because-sway = Schlingern nach jeder Seite
because-string = Umdrehungen, die die Schnur hätte geben sollen, aber nicht gab
because-axle = Umdrehungen der Achse, die ihr Rad nicht mitmachte
because-drive-cost = Weg, den das kostete
because-coast = Verlust an Geschwindigkeit beim Ausrollen
because-drag-cost = verlorener Weg in der Aufnahme
because-friction = Reibung beim Durchdrehen
because-yaw = von der Linie ab durch Drehen, während das Rad durchdrehte, und nur dann
because-peak = höchste Geschwindigkeit
because-share = Verlust beim Ausrollen als Anteil des Gewichts
because-ordinary = { $told }; solche Autos verlieren { $low } bis { $high }
because-clear = jeder Fehler, nach dem gesucht wurde, kostet sicher weniger als { $mm } mm
because-open = um jeden Fehler auszuschließen, müsste jeder sicher weniger als { $mm } mm kosten
because-not-judged = nicht beurteilt: { $what }
because-not-asked = { $cause } ({ $why })
because-sway-driven = das Schlingern geht im Takt des Antriebsrads (Gewicht dieser Erklärung: { $weight })
because-sway-other = das Schlingern geht in einem anderen Takt als das Antriebsrad, wie es Räder der anderen Achse täten (Gewicht dieser Erklärung: { $weight })
open-end-unseen = { $cause }: das Ende des Zugs war nicht zu sehen; nach den Umdrehungen bis dahin können bis zu { $mm } mm verloren sein
open-hidden = { $cause }: kein Zeichen davon, aber bis zu { $mm } mm könnten in dieser Aufnahme verborgen sein
open-skewed = Achsstellung: die Bahn ist gekrümmt, aber diese Aufnahme kann schiefe Achsen nicht von einem Rad unterscheiden, das vor dem anderen durchdreht; eine Marke auf dem Antriebsrad im Bild oder ein längeres Ausrollen würde es entscheiden
unseen-quantity = { $key }: { $why }

## Was man versuchen kann

caution = Die Ratschläge sind übliche Praxis, ohne Quelle. Vorsicht: Eine Fallenfeder kann einen Finger brechen, also halte sie am Sockel und arbeite an ihr nur entspannt; schneide von der Hand weg; benutze Kleber, Heißkleber und Lösungsmittel an frischer Luft und so, wie es auf dem Etikett steht; überlass Öfen und Hitze einem Erwachsenen; halte dich an die Regeln deiner Schule oder deines Vereins und arbeite unter Aufsicht.
try-with-gain = { $step } ({ $gain })
gain-closer = bringt das Auto am Ende der Aufnahme { $range } näher an die Linie
gain-coast = mit gewöhnlichem Ausrollen käme es { $range } weiter, bis es steht
gain-sway = nimmt { $range } Schlingern von Seite zu Seite weg
gain-drive = Umdrehungen für { $range } Weg kamen nicht am Boden an
gain-slip = { $wasted } gingen durch Durchdrehen verloren; ohne Durchdrehen würde das Auto { $range } weiter rollen, bis es steht
gain-slip-unseen = { $wasted } gingen durch Durchdrehen verloren; wie viel weiter das Auto käme, wird nicht gesagt: { $why }
try-straightedge = setze das Auto an einem Lineal auf, das an der Richtungslinie liegt
try-let-go = lass los, ohne es zur Seite zu stoßen
try-rub = drehe jedes Rad ohne Schnur von Hand und sieh, welches zuerst stehen bleibt: dieses schleift, oder seine Achse klemmt
try-play = gib der Achse der Länge nach etwas Spiel, und lege eine Scheibe zwischen Rad und Wagen
try-string-off = prüfe, ob die Schnur am Ende des Zugs von ihrer Achse abgeht, sonst bremst sie
try-lubricant = ein Tropfen Trockenschmiermittel in die Löcher der Achse
try-compare = vergleiche Läufe, um zu sehen, ob das Auto sich wiederholt
try-longer-arm = für mehr Weg: ein längerer Hebelarm oder eine dünnere Achse verteilt dieselbe Feder auf mehr Strecke
try-tread = gib den Antriebsrädern einen weichen Belag: einen Streifen Fahrradschlauch oder eine dünne Raupe Silikon, und wische Staub von Rädern und Boden
try-soften = mach den Start sanfter: ein längerer Hebelarm oder eine dünnere Achse zieht am Radrand weniger
try-weight = bring mehr Gewicht über die Antriebsachse
try-even = sorge dafür, dass beide Antriebsräder gleich haften: das Auto drehte sich, weil eines zuerst durchdrehte
try-turn-axle = { $curve ->
    [left] das Auto fährt eine Linkskurve: drehe die Vorderachse nach rechts und fahre noch einmal
   *[right] das Auto fährt eine Rechtskurve: drehe die Vorderachse nach links und fahre noch einmal
}
try-turn-axle-by = { $curve ->
    [left] das Auto fährt eine Linkskurve: drehe die Vorderachse um { $degrees } Grad nach rechts und fahre noch einmal
   *[right] das Auto fährt eine Rechtskurve: drehe die Vorderachse um { $degrees } Grad nach links und fahre noch einmal
}
try-square = prüfe, ob beide Achsen im rechten Winkel zum Wagen stehen und kein Rad schleift
try-wheelbase = ein längerer Radstand macht denselben Fehler kleiner
try-true-driven = ein Antriebsrad sitzt nicht gerade auf seiner Achse: halte einen Bleistift neben den Radrand, drehe das Rad und richte es, bis der Spalt gleich bleibt
try-true-other = ein Rad der anderen Achse sitzt nicht gerade: halte einen Bleistift neben den Radrand, drehe das Rad und richte es, bis der Spalt gleich bleibt
try-hub = klebe eine breite Nabe oder auf beide Seiten des Rads eine Scheibe, damit es nicht kippen kann
try-bent = ersetze eine verbogene Achse
try-string = verhindere, dass die Schnur auf ihrer Achse rutscht: ein Haken oder ein Knoten in einer Kerbe, die erste Windung über sich selbst, eine Lage Klebeband darunter
try-fix-wheel = befestige das Antriebsrad an seiner Achse: es drehte sich weniger als die Achse; klebe es fest oder stecke es auf eine Hülse
try-fixed = prüfe, ob die Antriebsräder fest auf ihrer Achse sitzen; eine Marke auf dem Ende der Achse, auf dem Laufzettel als `[axle_mark]` genannt, zeigt, was von beiden rutscht
try-measure-string = miss `string_mm`, `axle_diameter_mm` und `string_diameter_mm` noch einmal: die fehlenden Umdrehungen hängen davon ab
try-see-slip = um Schlupf zu sehen: klebe eine helle Marke außen auf das Antriebsrad, nenne sie auf dem Laufzettel, und halte sie im Bild, bis das Auto ausrollt
try-see-sideways = um seitliche Bewegung zu sehen: lege vier oder mehr Bodenmarken an bekannte Plätze, nicht in eine Reihe, und halte sie im Bild
try-see-string = um die Schnur zu beurteilen: halte die Radmarke im Bild und im Licht, bis die Schnur von ihrer Achse ab ist und etwas länger, und gib `string_mm`, `axle_diameter_mm` und `string_diameter_mm` auf dem Laufzettel an
try-film = die Intervalle sind zu breit, um es zu sagen: filme näher, bei besserem Licht, mit 60 Bildern je Sekunde oder mehr
try-narrower = für ein schmaleres Intervall von »{ $what }«: { $action } ({ $input }: { $share } % seiner Varianz)

## Warum etwas nicht beobachtbar ist: die Aufnahme

why-few-marks = der Laufzettel nennt { $named ->
    [one] eine Bodenmarke
   *[other] { $named } Bodenmarken
}; vier oder mehr, die nicht in einer Reihe liegen, ergeben eine Kamera
why-marks-in-line = die Bodenmarken auf dem Laufzettel liegen in einer Reihe; eine Kamera braucht vier, die das nicht tun
why-no-fit = { $patches ->
    [one] ein Fleck in der Farbe der Bodenmarken liegt
   *[other] { $patches } Flecken in der Farbe der Bodenmarken liegen
} still im Bild, aber keine vier davon passen zu den Plätzen auf dem Laufzettel
why-moves-unplaced = die Kamera bewegt sich, und in keinem Bild passen vier der { $named } Bodenmarken, keine drei davon in einer Reihe, zu den Plätzen auf dem Laufzettel; halte immer mindestens vier solche im Bild, oder stelle das Handy auf etwas Festes
why-moves-otherwise = die Kamera bewegt sich so, dass die Bodenmarken nicht dazu passen
why-moves = die Kamera bewegt sich
why-no-known-size = nichts im Bild hat eine bekannte Größe: lege Bodenmarken an bekannte Plätze, oder gib den Radius der Radmarke auf dem Laufzettel an
why-plain-scale = diese Aufnahme hat nur einen einfachen Maßstab: vier Bodenmarken, die nicht in einer Reihe liegen, würden seitliche Bewegung zeigen

## Warum etwas nicht beobachtbar ist: die Marken

why-sticker-unseen = der Aufkleber war nicht zu sehen
why-sticker-seldom = der Aufkleber war in zu wenigen Bildern zu sehen
why-off-the-floor = der Platz des Aufklebers trifft in dieser Aufnahme nicht auf den Boden
why-no-smooth-path = keine glatte Bahn passt zu den Plätzen des Aufklebers und den Zeiten der Bilder
why-never-moves = das Auto bewegt sich in diesem Video nicht
why-already-moving = das Auto fuhr schon, als es ins Bild kam
why-rest-unsure = ob das Auto am Anfang des Videos stand, lässt sich nicht sagen
why-short-clip = das Video ist zu kurz
why-no-wheel-mark = keine Marke wurde genannt
why-no-axle-mark = keine Marke auf dem Ende der Achse wurde auf dem Laufzettel genannt, oder keine war zu sehen
why-few-wheel-frames = die Radmarke war { $seen ->
    [one] in einem Bild
   *[other] in { $seen } Bildern
} neben dem Aufkleber zu sehen; mindestens { $needed } sind nötig
why-off-hub = was die Farbe der Radmarke hat, kreist um einen Punkt { $mm } mm neben der Nabe, die der Laufzettel angibt
why-no-circle = was die Farbe der Radmarke hat, bleibt nicht auf einem Kreis um die Nabe
why-turned-too-little = das Rad drehte sich zu wenig, um seine Nabe zu finden, und der Laufzettel gibt den Radius der Marke nicht an
why-other-wheel = die Umdrehungen der Radmarke beim Ausrollen verlangen ein Rad von { $rolls } mm, der Laufzettel sagt { $sheet } mm: etwas anderes wurde für die Marke gehalten, oder Umdrehungen gingen verloren
why-turned-less = die Radmarke drehte sich { $short } m weniger, als das Auto fuhr, was kein Antriebsrad tut: etwas anderes wurde für die Marke gehalten, oder Umdrehungen gingen verloren
why-few-kept = nur { $kept } von { $of } Beobachtungen der Radmarke liegen auf einem Kreis und passen zu einer stetigen Drehung
why-half-turns = das Rad dreht sich von einer Beobachtung seiner Marke zur nächsten in { $beyond } von { $of } Fällen um mehr als eine halbe Umdrehung, so dass sich die Umdrehungen nicht sicher zählen lassen
why-count-unsure = nach { $sure } von { $of } Beobachtungen der Radmarke lassen sich ihre Umdrehungen nicht mehr sicher zählen
why-and-remedy = { $fact }; { $remedy }
remedy-off-the-floor = prüfe die Plätze der Bodenmarken und die Höhe des Aufklebers
remedy-rest-unsure = beginne eine Sekunde vor dem Start, und halte das Handy still
remedy-off-hub = prüfe `ahead_mm` und den Durchmesser des Rads, und ob sonst nichts in der Nähe des Autos diese Farbe hat
remedy-few-kept = filme bei besserem Licht oder näher, mit nichts anderem in dieser Farbe in der Nähe des Autos
remedy-half-turns-rate = filme mit { $rate } Bildern je Sekunde oder mehr
remedy-half-turns = nimm ein größeres Rad oder einen langsameren Start
remedy-count-unsure = halte die Marke im Bild und in gutem Licht, oder filme mit mehr Bildern je Sekunde
remedy-other-wheel = filme näher, bei besserem Licht oder mit mehr Bildern je Sekunde

## Warum etwas nicht beobachtbar ist: der Lauf

why-not-on-sheet = der Laufzettel nennt { $what ->
    [driven-share] `driven_share` nicht
    [mass] `mass_g` des Autos nicht
    [wheelbase] `wheelbase_mm` nicht
   *[string] nicht beides, `axle_diameter_mm` und `string_mm`
}
why-wheel-late = die Radmarke war erst { $late } s nach dem Start zu sehen; halte das Antriebsrad schon vor dem Start im Bild und im Licht
why-uneven-scale = das Auto kam während des Laufs um { $share } % näher oder entfernte sich so weit, und dem kann ein einfacher Maßstab nicht folgen; lege vier Bodenmarken, die nicht in einer Reihe liegen
why-short-path = das Auto fuhr { $over } m im Bild; eine Form hat seine Bahn ab { $least } m
why-clock-unknown = das Video sieht nach Zeitlupe mit unbekannter Bildrate aus: gib `[camera] capture_fps` auf dem Laufzettel an
why-wheel-unseen = die Radmarke war neben dem Aufkleber nicht zu sehen
why-wheel-lost = die Radmarke ging zu früh verloren, um ihre Umdrehungen zu zählen; filme näher, bei besserem Licht oder von dort, wo nichts das Rad verdeckt
why-wheel-lost-before-end = die Radmarke ging vor dem Ende des Zugs verloren
why-axle-apart = Radmarke und Achsmarke waren nie zusammen zu sehen
why-slow-rim = der Radrand drehte sich unter Zug nie schnell genug für einen Schlupf
why-brief-slip = das Rad drehte nicht lange genug durch, um die Reibung zu zeigen
why-no-radius = das Video zeigt kein Ausrollen, aus dem der Rollradius käme, und der Laufzettel gibt den Durchmesser des Rads nicht an
why-pull-unseen = der Zug war nicht im Bild
why-pull-not-whole = der Zug war nicht vom Start bis zum Ende im Bild
why-still-gaining = das Auto wurde noch schneller, als es aus dem Bild fuhr
why-end-unclear = das Ende des Zugs ist nicht im Bild, oder der Zug lässt ohne klares Ende nach
why-end-untold = die Geschwindigkeit des Autos allein zeigt nicht, wann die Schnur zu Ende war: ein Rad, das durchdreht, schiebt weiter, bis es greift; klebe eine Marke auf das Antriebsrad und halte sie im Bild
why-short-coast = das Video zeigt kein Ausrollen, das lang genug wäre, um das Langsamerwerden zu messen
why-no-coast-for-gain = das Video zeigt kein Ausrollen, das sagen könnte, was ein Meter Rollen kostet
why-short-coast-for-gain = das Ausrollen im Bild ist zu kurz, um zu sagen, was ein Meter Rollen kostet
why-no-shape = die Bahn ist zu kurz für eine Form
why-sway-untold = das Auto fuhr im Bild nicht weit genug, um Schlingern von einer Kurve zu unterscheiden
why-not-computed = es wurde nicht berechnet
why-indeterminate = die Zahlen legen es nicht fest
why-spun-out-of-sight = das Rad drehte durch, und die Aufnahme, die die Bahn zeigt, zeigt das Rad nicht: ein Auto, das sich dabei drehte, ist nicht von einem zu unterscheiden, das sich selbst lenkt oder schräg aufgesetzt wurde
why-no-run = in diesem Video wurde nichts losgelassen
why-sticker-still = der Aufkleber bewegte sich in diesem Video nie, also gibt es keinen Lauf zu messen; beginne vor dem Start zu filmen, und halte das Auto im Bild, bis es ausrollt
why-too-quick = die Zeiten oder die Maße sind zweifelhaft ({ $sign }): prüfe `[camera] capture_fps` und die Plätze der Bodenmarken auf dem Laufzettel
sign-too-quick = das Auto würde in einer Sekunde { $pull } m/s gewinnen, mehr als Reifen schieben können
doubt-too-quick = die Zeiten des Videos oder die Maße auf dem Laufzettel können nicht stimmen: { $sign }; prüfe `[camera] capture_fps` und die Plätze der Bodenmarken auf dem Laufzettel
doubt-too-slow = das sieht nach Zeitlupe mit unbekannter Bildrate aus: { $sign }. Schreib die Bildrate, mit der das Video aufgenommen wurde, als `[camera] capture_fps` auf den Laufzettel, oder { $rate }, wenn das Video so schnell läuft wie der Lauf war
doubt-too-slow-likely = das sieht nach Zeitlupe mit unbekannter Bildrate aus: { $sign }; { $likely } Bilder je Sekunde ergäben ein gewöhnliches Auto. Schreib die Bildrate, mit der das Video aufgenommen wurde, als `[camera] capture_fps` auf den Laufzettel, oder { $rate }, wenn das Video so schnell läuft wie der Lauf war
doubt-or = { $one } oder { $other }
sign-weak-pull = das Auto würde unter Zug in einer Sekunde nur { $pull } m/s gewinnen
sign-weak-spin = das Rad dreht durch, obwohl das Auto in einer Sekunde nur { $pull } m/s gewinnen würde
sign-free-coast = das Auto würde beim Ausrollen in einer Sekunde nur { $loss } m/s verlieren, weniger als ein Zug auf Schienen
sign-low-peak = das Auto wäre nie schneller als { $peak } m/s

## Zwei Handys

missed-slow-motion = { $view ->
    [side] der Ton der Zeitlupe (Seitenansicht) ist nicht im Takt
   *[end] der Ton der Zeitlupe (Endansicht) ist nicht im Takt
}
missed-no-sound = { $view ->
    [side] die Seitenansicht hat keinen Ton
   *[end] die Endansicht hat keinen Ton
}
missed-no-snap = { $view ->
    [side] in der Seitenansicht hebt sich kein plötzliches Geräusch ab, wo das Auto losfährt
   *[end] in der Endansicht hebt sich kein plötzliches Geräusch ab, wo das Auto losfährt
}
missed-motion = { $view ->
    [side] die Seitenansicht zeigt die erste Bewegung nicht ({ $why })
   *[end] die Endansicht zeigt die erste Bewegung nicht ({ $why })
}
align-other-bang = der lauteste Knall in den beiden Tonspuren liegt { $ms } ms neben der ersten Bewegung, darum wurde er nicht für das Schnappen der Feder gehalten
align-unchecked = der Ton ließ sich nicht an den Bildern prüfen: { $why }
align-no-snap = nicht nach dem Ton ausgerichtet: { $why }
align-not = die beiden Videos lassen sich zeitlich nicht ausrichten: { $sound }, und { $motion }
join-not-measured = { $view ->
    [side] die Seitenansicht: { $why }
   *[end] die Endansicht: { $why }
}
join-other-run = die beiden Videos zeigen nicht denselben Lauf: im selben Moment unterscheiden sich ihre Geschwindigkeiten um { $share } %

## Zehn Wörter

word-release = Start
word-release-means = der Moment, in dem das Auto losfährt.
word-pull = Zug
word-pull-means = der Teil des Laufs, in dem die Feder an der Schnur zieht und die Schnur die Achse dreht.
word-coast = Ausrollen
word-coast-means = der Teil nach dem Zug: das Auto rollt mit dem Tempo weiter, das es hat.
word-rim = Radrand
word-rim-means = der äußere Rand eines Rads, wo es den Boden berührt.
word-wheelspin = Durchdrehen
word-wheelspin-means = das Rad dreht sich, rutscht aber auf dem Boden, und das Auto kommt weniger weit, als der Radrand sich drehte.
word-slip = Schlupf
word-slip-means = welcher Teil der Drehung verloren geht. 0: das Rad rollt. 0,5: die Hälfte ist verloren. 1: es dreht auf der Stelle durch.
word-grip = Haftung
word-grip-means = wie fest der Boden das Rad hält. Mehr Haftung, weniger Durchdrehen.
word-aim-line = Richtungslinie
word-aim-line-means = die gerade Linie auf dem Boden, der das Auto folgen soll.
word-off-line = Von der Linie ab
word-off-line-means = wie weit das Auto neben der Richtungslinie ist.
word-interval = Intervall
word-interval-means = zwei Zahlen. Der wahre Wert liegt in 95 von 100 Fällen dazwischen. Ein schmales Intervall ist eine sichere Zahl.

## Arbeitsblatt

the-car = das Auto
sheet-title = { $car }: Arbeitsblatt
sheet-kicker = Arbeitsblatt · { $car }
sheet-heading = Was tat unser Auto, und warum?
sheet-help = Druck es aus und schreib mit der Hand, oder tippe hier und druck dann. Was du tippst, bleibt nicht erhalten, wenn die Seite geschlossen wird.
sheet-guess = 1. Unsere Vermutung
sheet-guess-ask = Vor dem Lauf dachten wir, dass das Auto …, weil …
sheet-changed = 2. Was wir geändert haben
sheet-change = Auf dem Laufzettel: { $change }
sheet-changed-ask = Nur eine Sache. Was blieb gleich?
sheet-happened = 3. Was geschah
sheet-happened-ask = Was wir selbst gesehen haben:
sheet-sure = 4. Wie sicher sind wir?
sheet-between = { $meaning }: zwischen { $between }
sheet-sure-means = Der wahre Wert liegt in 95 von 100 Fällen zwischen den beiden Zahlen. Das ist ein einziger Lauf: ein anderer kann stärker abweichen.
sheet-unseen = Was das Video nicht zeigen konnte: { $what }.
sheet-sure-ask = Wie viele Läufe haben wir gemacht? Stimmten sie überein?
sheet-next = 5. Wie es weitergeht
sheet-suggest = Die Zahlen raten: { $step }.
sheet-next-ask = Wir ändern …, und wir erwarten …
sheet-words = Zehn Wörter

## Poster, und das Bild des ganzen Laufs

poster-title = { $car }: Poster
poster-heading = Poster von { $car }
poster-help = Druck diese Seite auf { $paper }, quer. poster.png daneben ist dasselbe für den Copyshop.
poster-between = zwischen { $between }
poster-no-number = Keine Zahl dieses Laufs war aus dieser Aufnahme zu gewinnen.
poster-above = Dasselbe von oben
poster-no-way = Wie weit das Auto fuhr, ist aus dieser Aufnahme nicht beobachtbar.
poster-gap = Die Lücke ist das Durchdrehen
poster-no-gap = Der Radrand drehte so weit, wie das Auto fuhr
poster-way = Wie weit das Auto fuhr
poster-no-rim = Wie weit der Radrand drehte, ist nicht beobachtbar: { $why }.
poster-foot = { $caption } Zwischen: das Intervall, das den wahren Wert in 95 von 100 Fällen enthält. Gemessen mit gripline.
poster-foot-above = { $caption } Von oben: der Boden ist maßstäblich, was aufragt, neigt sich von der Kamera weg. Zwischen: das Intervall, das den wahren Wert in 95 von 100 Fällen enthält. Gemessen mit gripline.
caption-taken = { $every ->
    [time] { $count } Bilder des Autos aus dem Video, eines alle { $step } s
   *[frames] { $count } Bilder des Autos aus dem Video, in gleichen Abständen an Bildern
}{ $cut ->
    [0] {""}
    [1] {" "}(eines fehlt: der Bildrand schnitt das Auto ab)
   *[other] {" "}(einige fehlen: der Bildrand schnitt das Auto ab)
}, über dem Boden als Median von { $frames } Bildern.{ $ruler ->
    [none] {""}
    [flat] {" "}Das Lineal unter den Rädern zählt ab der Antriebsachse in Bild 1; es gilt dort, wo das Auto fuhr, nicht näher oder weiter weg.
   *[floor] {" "}Das Lineal liegt auf dem Boden neben der Richtungslinie (Striche) und zählt ab dem Platz, an dem die Antriebsachse in Bild 1 stand.
}
number-off-line = { $side ->
    [left] am Ende der Aufnahme von der Linie ab, nach links
   *[right] am Ende der Aufnahme von der Linie ab, nach rechts
}
number-heading = { $side ->
    [left] Fahrtrichtung am Start von der Linie ab, nach links
   *[right] Fahrtrichtung am Start von der Linie ab, nach rechts
}
number-skew = { $side ->
    [left] Schiefstellung der Achsen, lenkt nach links
   *[right] Schiefstellung der Achsen, lenkt nach rechts
}
rulers-said-unseen = Das Auto fuhr { $car }. Wie weit sein Radrand drehte, ist nicht beobachtbar: { $why }.
rulers-said-spun = Das Auto fuhr { $car }; sein Radrand drehte { $rim }. Die Lücke von { $gap } ging durch Durchdrehen verloren.
rulers-said = Das Auto fuhr { $car }; sein Radrand drehte so weit: höchstens { $mm } mm gingen durch Durchdrehen verloren.
rulers-rim = Radrand drehte { $way }
rulers-car = Auto fuhr { $way }
rulers-gap = durch Durchdrehen verloren { $way }

## Das Video mit Messwerten

panel-rest = steht
panel-powered = Zug
panel-coast = rollt aus
panel-stopped = steht still
panel-rolling = rollt
panel-slip = Schlupf { $slip }
panel-rim = Rad
panel-car = Auto
panel-no-speeds-1 = kein Tempo: Bildrate
panel-no-speeds-2 = nicht bekannt

## Warum es kein Poster gibt

why-poster-camera = die Kamera bewegte sich, und zu wenige Bodenmarken waren im Bild, um die Bilder übereinander zu legen
why-poster-car-unplaced = keine zwei Bilder zeigen das Auto an einem bekannten Platz
why-poster-hardly-moved = das Auto bewegte sich im Bild um weniger als ein Fünftel seiner eigenen Länge
why-poster-car-unseen = das Auto war vom Boden dahinter nicht zu unterscheiden

## Wichtige Bilder

moment-slip = größter Schlupf, { $slip }
moment-release = Start
moment-first = erstes Bild mit dem Auto
moment-pull-ends = Ende des Zugs
moment-view-ends = Ende der Aufnahme
moment-farthest = am weitesten von der Linie ab, { $mm } mm { $side ->
    [left] links
   *[right] rechts
}
moment-on-the-way = unterwegs
still-alt = Bild bei { $time }: { $caption }.
still-alt-car = Bild bei { $time }: { $caption }. Das Auto fährt { $car } m/s.
still-alt-rim = Bild bei { $time }: { $caption }. Das Auto fährt { $car } m/s, sein Radrand { $rim } m/s.
film-key = Rosa Kreis und Linie: der Aufkleber und seine Spur. Grüne Raute und Punkte: die Radmarke, ein Punkt je Bild. Oranges Dreieck: die Achsmarke, wo es eine gibt. Gelbe Striche: die Richtungslinie auf dem Boden. Weißer Pfeil: wohin das Auto zeigt. Die Farben sind die der gedruckten Vorlagen, woraus auch immer die Marken sind.

## Zusammenfassung im Terminal

said-verdict = Befund für { $car }: { $verdict }
said-undetermined = Befund: offen
said-also = außerdem: { $causes }
said-brackets = (in Klammern: das Intervall, das den wahren Wert in 95 von 100 Fällen enthält)
said-try = Versuche:
said-seen-by = Gesehen von: { $view }
said-note = Hinweis: { $note }
said-no-speeds = Geschwindigkeiten und Zeiten werden nicht angegeben: { $doubt }
second-not-used = Zweite Ansicht nicht benutzt: { $why }
second-gave = Aus der zweiten Ansicht: { $what }
second-gave-nothing = Aus der zweiten Ansicht: nichts, die erste sieht alles besser
second-aligned = { $by ->
    [sound] ausgerichtet nach dem Schnappen der Feder in beiden Tonspuren, auf { $ms } ms genau
   *[motion] ausgerichtet nach der ersten Bewegung in beiden Bildern, auf { $ms } ms genau
}
second-aligned-checked = { $by ->
    [sound] ausgerichtet nach dem Schnappen der Feder in beiden Tonspuren, auf { $ms } ms genau; Ton und erste Bewegung unterscheiden sich um { $residual } ms
   *[motion] ausgerichtet nach der ersten Bewegung in beiden Bildern, auf { $ms } ms genau; Ton und erste Bewegung unterscheiden sich um { $residual } ms
}
second-not-compared = die Geschwindigkeiten der beiden Videos ließen sich nicht vergleichen, um zu sehen, ob sie denselben Lauf zeigen
track-no-wheel-mark = nichts in der Farbe der Radmarke dreht sich mit dem Aufkleber; die Drehung des Rads ist nicht beobachtbar
track-sticker-still = etwas in der Farbe des Aufklebers wurde gefunden, das sich nie bewegte; ist das der Aufkleber?
track-sticker-lost = der Aufkleber ging bei { $at } s verloren, mitten im Bild und in Fahrt: was vom Ende der Aufnahme gesagt wird, gilt für diesen Moment; nimm einen größeren Aufkleber oder besseres Licht, oder filme näher
track-several-moving = { $others ->
    [one] noch { $others } Ding in der Farbe des Aufklebers bewegte sich
   *[other] noch { $others } Dinge in der Farbe des Aufklebers bewegten sich
}; das gewählte fährt weiter und schneller weg oder hat eine Radmarke, die sich dreht (`at_px` und `at_s` unter `[sticker]` auf dem Laufzettel zeigen auf ein anderes)
view-moving = einer Kamera, die sich bewegte und der { $marks } Bodenmarken folgten, die auf { $px } px passen
view-still = einer Kamera, deren Platz { $marks } Bodenmarken zeigen, die auf { $px } px passen
view-plain = { $from ->
    [floor] einem einfachen Maßstab aus dem Abstand zwischen Bodenmarken; seitliche Bewegung ist nicht beobachtbar
    [circle] einem einfachen Maßstab aus dem Kreis der Radmarke; seitliche Bewegung ist nicht beobachtbar
   *[rolling] einem einfachen Maßstab aus den Umdrehungen des rollenden Rads; seitliche Bewegung ist nicht beobachtbar
}
view-pixels = einer Kamera ohne Maßstab: nichts im Bild hat eine bekannte Größe, also wird nichts in Metern angegeben

## Bericht: die Seite

report-title = { $car }: { $cause } - Bericht über den Lauf
report-kicker = Bericht über den Lauf · { $car }
report-to-big = Groß zeigen, für den Beamer
report-worksheet = Arbeitsblatt für die Ausarbeitung
report-no-speeds = Geschwindigkeiten und Zeiten werden nicht angegeben:
report-because = Was es zeigt
report-verdict = Befund:
report-also = Zählt ebenfalls: { $causes }.
report-brackets = In Klammern: das Intervall, das den wahren Wert in 95 von 100 Fällen enthält.
report-try = Was du versuchen kannst
report-change = Geändert seit dem Lauf davor: { $change }
report-whole = Der ganze Lauf in einem Bild
report-whole-alt = Das Auto mehrmals in einem Bild, der Zeit nach nummeriert. { $rulers }
report-strip = { $count ->
    [one] Der Lauf in { $count } Bild
   *[other] Der Lauf in { $count } Bildern
}
report-energy-fine = Von der Energie, die gefunden wurde; was die Räder selbst in Drehung versetzte, ist nicht dabei. In Klammern jeder Teil an einem Ende seines Intervalls, die anderen an den entgegengesetzten Enden.
report-clip = Das Video mit Messwerten
report-clip-label = Der Lauf mit eingezeichneten Messwerten; die Zahlen stehen in den Diagrammen und Tabellen dieser Seite
report-clip-plays = Spielt
report-clip-where = , das im selben Ordner liegt wie diese Seite.
report-clip-gone = Es ist jetzt nicht da: diese Seite wurde ohne es weitergegeben. Alles andere steht auf der Seite.
report-clip-none = Zu dieser Seite wurde kein Video mit Messwerten geschrieben.
report-charts = Was geschah
report-charts-help = Zeige auf ein Diagramm, oder geh mit der Tabulatortaste hin und benutze die Pfeiltasten, um Werte abzulesen und das Bild zu sehen.
report-behind = Zahlen hinter »{ $title }«
report-rows = { $rows } von { $frames } Bildern; alle stehen in frames.csv
report-results = Ergebnisse
report-results-what = alle Größen mit ihren Intervallen
report-results-caption = Jede mit ihrem 95-%-Intervall
report-results-names = ; in kleiner Schrift ihr Name in summary.json
report-quantity = Größe
report-value = Wert
report-interval = 95-%-Intervall
report-costs = Was jede Ursache kostete
report-costs-caption = Eine Ursache zählt ab { $mm } mm, oder ab { $share } % des Wegs, wenn das mehr ist
report-cause = Ursache
report-travel = Verlorener Weg
report-off-line = Am Ende von der Linie ab
report-until-stop = bis das Auto steht
report-after = nach { $metres } m
report-unseen = Was nicht beobachtbar war, und warum
report-unseen-none = Jede Größe war in diesem Video zu beobachten.
report-method = Wie gemessen wurde
report-method-what = Kamera, Marken, Video und woher die Intervalle kommen
report-words = Zehn Wörter
report-words-what = was die Wörter auf dieser Seite bedeuten
report-cautions = Vorsicht
report-close = Schließen
report-big-between = { $meaning } (zwischen { $between })
report-try-first = Versuche zuerst:

## Bericht: was sein Skript sagt

script-frame = Bild
script-time = Zeit
script-to = bis
script-not-seen = nicht gesehen
script-not-reading = noch keine Ablesung; benutze die Pfeiltasten

## Bericht: mit anderen Worten

plain-slip = Wo die Räder am stärksten durchdrehten, { $wasted }.
plain-curve = Die Bahn ist { $circle }.
plain-wasted = waren { $value } von je 100 mm ({ $low } bis { $high }), die der Radrand drehte, verloren
plain-wasted-most = waren höchstens { $high } von je 100 mm, die der Radrand drehte, verloren
plain-straight = gerade, oder ein Kreis mit { $metres } m Radius oder mehr
plain-circle = ein Kreis mit { $radius } m Radius ({ $low } bis { $high }) nach { $side ->
    [left] links
   *[right] rechts
}
energy-rubbed = unter durchdrehenden Rädern verrieben
energy-moving = in der Bewegung des Autos am Ende des Zugs
energy-rolling = von Rollen und Luft während des Zugs genommen
energy-headline-rubbed = { $share } der Energie des Zugs wurden unter den Rädern verrieben
energy-headline-moving = { $share } der Energie des Zugs gingen in die Bewegung des Autos
energy-share = { $value } % ({ $low } bis { $high } %)

## Bericht: Diagramme

chart-missing = Nicht beobachtbar: { $why }.
chart-unseen = nicht gesehen
chart-frame = Bild
chart-time = Zeit im Video, s
chart-time-head = Zeit, s
chart-frames = Bild des Videos
chart-release = Start
chart-pull-ends = Ende des Zugs
chart-speed = Geschwindigkeit von Auto und Radrand
chart-speed-axis = Geschwindigkeit, m/s
chart-speed-clock = die Zeiten des Videos sind zweifelhaft
chart-car = Auto
chart-rim = Radrand
chart-gap = Lücke: Schlupf
chart-speed-peak = Das Auto erreichte { $peak }.
chart-speed-peak-unseen = Die höchste Geschwindigkeit ist nicht beobachtbar: { $why }.
chart-speed-spun-unseen = Wie viel Weg durch Durchdrehen verloren ging, ist nicht beobachtbar: { $why }.
chart-speed-together = Die Linien liegen zusammen: sicher durchgedreht wurde kein Weg ({ $value }, { $interval }).
chart-speed-gap = Die getönte Lücke ist der Weg, der durch durchdrehende Räder verloren ging: zusammen { $gap }.
chart-speed-no-rim-why = Keine Geschwindigkeit des Radrands: { $why }.
chart-speed-no-rim = Eine Geschwindigkeit des Radrands war nicht zu sehen.
chart-slip = Schlupf
chart-slip-axis = Schlupf
chart-slip-slow-rim = der Radrand war nie schneller als { $speed } m/s
chart-slip-most = Größter Wert unter Zug: { $slip }.
chart-slip-most-unseen = Der größte Schlupf unter Zug ist nicht beobachtbar: { $why }.
chart-slip-means = Bei 0 rollt das Rad, bei 1 dreht es auf der Stelle durch; unter { $speed } m/s am Radrand gibt es keinen Wert.
chart-slip-means-slow = Bei 0 rollt das Rad, bei 1 dreht es auf der Stelle durch; solange der Radrand langsam ist, gibt es keinen Wert.
chart-path = Die Bahn von oben gesehen
chart-path-no-frame = kein Bild zeigt es
chart-path-x = entlang der Richtungslinie, m
chart-path-x-head = entlang der Linie, m
chart-travel = Weg des Autos, m
chart-travel-head = Weg, m
chart-path-y = rechts (−)  mm ab  (+) links
chart-path-series = links der Richtungslinie
chart-path-fit = angepasste Kurve
chart-path-fit-alone = angepasste gleichmäßige Kurve allein
chart-path-aim = Richtungslinie
chart-path-end = Am Ende der Aufnahme war das Auto { $off } { $side ->
    [left] links
   *[right] rechts
} von der Richtungslinie.
chart-path-end-on = Am Ende der Aufnahme war das Auto auf der Richtungslinie, soweit diese Aufnahme es zeigen kann: { $off }.
chart-path-end-unseen = Sein Abstand von der Linie am Ende ist nicht beobachtbar: { $why }.
chart-path-curved = Es fuhr eine Kurve nach { $side ->
    [left] links
   *[right] rechts
} ({ $curve }; { $interval }), wie es um { $skew } schiefe Achsen täten.
chart-path-curved-unseen = Es fuhr eine Kurve nach { $side ->
    [left] links
   *[right] rechts
} ({ $curve }; { $interval }); die Schiefstellung der Achsen ist nicht beobachtbar: { $why }.
chart-path-curve-unseen = Eine gleichmäßige Kurve ist nicht beobachtbar: { $why }.
chart-path-no-curve = Eine gleichmäßige Kurve ist nicht sicher.
chart-path-sway = Es schlingerte um { $sway } nach jeder Seite, im Takt des Antriebsrads.
chart-path-sway-other = Es schlingerte um { $sway } nach jeder Seite, nicht im Takt des Antriebsrads.
chart-path-stretch = Zur Seite ist { $times }-mal größer gezeichnet als in Fahrtrichtung.
chart-turns = Umdrehungen des Rads über dem Weg
chart-turns-axis = Umdrehungen des Rads
chart-turns-series = Umdrehungen
chart-turns-wheel = Rad
chart-turns-rolls = ein Rad, das rollt
chart-turns-made = Das Rad machte { $turns }, während das Auto { $way } fuhr.
chart-turns-unseen = Umdrehungen für den ganzen Weg sind nicht beobachtbar: { $why }.
chart-turns-would = Immer nur rollend hätte es { $turns } gemacht.
chart-turns-line = Die Linie ist gerade, wo das Rad rollt, und steiler, wo es durchdreht.

## Bericht: wie gemessen wurde

method-no-name = ein Video ohne Namen
method-camera = Gesehen von
method-camera-note = { $view }. Hinweis: { $note }
method-marks = Gesehene Marken
method-marks-words = Aufkleber in { $sticker } und Radmarke in { $wheel } von { $frames } Bildern; { $patches ->
    [one] ein Fleck lag still auf dem Boden
   *[other] { $patches } Flecken lagen still auf dem Boden
}
method-frames = Bilder
method-frames-unknown = { $count }; Zeiten { $clock }
method-frames-words = { $count }; Zeiten aus: { $clock }
method-frames-rate = { $count }, meist { $middle } ms auseinander ({ $least } bis { $most }): { $rate } je Sekunde; Zeiten aus: { $clock }
method-residuals = Restabweichungen
method-residuals-sticker = der Aufkleber liegt { $px } px (quadratisches Mittel) neben der geglätteten Bahn
method-residuals-both = der Aufkleber liegt { $px } px (quadratisches Mittel) neben der geglätteten Bahn, die Radmarke { $off } mm neben ihrem Kreis von { $circle } mm
method-radius = Rollradius
method-radius-coast = { $radius } mm, aus { $over } m Ausrollen in diesem Video
method-radius-sheet = { $radius } mm, die Hälfte des Durchmessers auf dem Laufzettel
method-intervals = Intervalle
method-intervals-words = 95 %: Wert ± Erweiterungsfaktor × Standardunsicherheit (GUM, JCGM 100); Maße, Objektiv und Bodenmarken durch { $draws } Monte-Carlo-Ziehungen, was sich von Bild zu Bild ändert durch die eigenen Varianzen der Glättung, quadratisch addiert; Schlupf ist 1 − v / (ω R), unter { $speed } m/s am Radrand nicht definiert
method-sources = Woher die Intervalle kommen
method-sources-words = größter Anteil an der Varianz, { $list }
method-source = { $what }: { $share } % { $input }
method-source-speed = höchste Geschwindigkeit
method-source-slip = größter Schlupf
method-source-spun = durch Durchdrehen verlorener Weg
method-source-off-line = Abstand von der Linie
method-source-curve = Krümmung
method-shapes = Mögliche Formen der Bahn
method-shapes-words = Gewichte von 0 bis 1: gleichmäßige Kurve { $curve }, Drehen beim Durchdrehen { $yaw }, Schlingern mit dem Antriebsrad { $driven }, Schlingern in anderem Takt { $other }
method-clip = Video
method-clip-words = { $name }, { $width } × { $height } px, { $codec } in { $pixels }, { $bits } Bit je Abtastwert, SHA-256 { $sha }
method-second = Zweite Ansicht
method-second-words = { $name }, SHA-256 { $sha }. { $said }
method-notes-clip = Hinweise zum Video
method-notes-doubts = Einen zweiten Blick wert
method-notes-assumed = Angenommen, weil ein Maß auf dem Laufzettel fehlt
method-tool = Gemessen mit
method-tool-words = gripline { $version }; die Werte jedes Bilds stehen in frames.csv, alle Größen in summary.json
clock-file = den eigenen Bildzeiten der Datei
clock-unknown = nicht bekannt: { $doubt }
clock-sheet = Zeitlupe: der Laufzettel sagt, dass mit { $fps } Bildern je Sekunde aufgenommen wurde, also wurden die Zeiten der Datei durch { $slowed } geteilt
clock-clip = Zeitlupe: das Video sagt, dass mit { $fps } Bildern je Sekunde aufgenommen wurde, also wurden seine Zeiten durch { $slowed } geteilt

## Was angenommen wurde, weil ein Maß fehlt

assumed-length = auf dem Laufzettel fehlt: { $what }; angenommen wurden { $mm } mm, plus oder minus { $give } mm
assumed-half-wheel = der halbe Durchmesser des Rads
assumed-ahead = wie weit der Aufkleber vor der Antriebsachse sitzt, steht nicht auf dem Laufzettel; Plätze sind die des Aufklebers selbst
assumed-string = die Dicke der Schnur (`string_diameter_mm`) steht nicht auf dem Laufzettel; angenommen wurden { $mm } mm, plus oder minus { $give } mm
assumed-side = welche Seite zur Kamera zeigt, steht nicht auf dem Laufzettel; angenommen wurde rechts
assumed-misfit = die Bodenmarken passen nur auf { $mm } mm zu den Plätzen auf dem Laufzettel, was die Intervalle breiter macht: miss sie noch einmal, und sieh nach, dass nichts einen Teil davon verdeckt
assumed-no-plan-mark = Marken waren zu sehen, die die Form des Bodenplans aus den Vorlagen haben, aber nach ihm gilt: { $why }; der Plan wurde nicht benutzt; schreib `[[floor_mark]]` mit den Plätzen, an denen die Marken liegen
assumed-no-plan-wheel = Marken waren zu sehen, die die Form des Bodenplans aus den Vorlagen haben, aber in seiner Größe ausgelegt ergäben sie ein Antriebsrad von { $rolls } mm statt der { $sheet } mm des Laufzettels: der Plan wurde nicht benutzt; schreib `[[floor_mark]]` mit den Plätzen, an denen die Marken liegen
kit-whole-sheet = es gibt keinen Laufzettel: angenommen wurden Maße eines gewöhnlichen Autos, und die Intervalle sind so breit, wie Autos sich unterscheiden
kit-sticker-colour = die Farbe des Aufklebers steht nicht auf dem Laufzettel; angenommen wurde { $colour } wie in den Vorlagen
kit-wheel-mark-colour = die Farbe der Radmarke steht nicht auf dem Laufzettel; angenommen wurde { $colour } wie in den Vorlagen
kit-axle-mark-colour = die Farbe der Achsmarke steht nicht auf dem Laufzettel; angenommen wurde { $colour } wie in den Vorlagen
kit-floor-mark-colour = die Farbe der Bodenmarken steht nicht auf dem Laufzettel; angenommen wurde { $colour } wie in den Vorlagen
kit-end-sticker-colour = die Farbe des Aufklebers für das zweite Handy steht nicht auf dem Laufzettel; angenommen wurde { $colour } wie in den Vorlagen
kit-wheel-mark = der Laufzettel nennt keine Radmarke; eine Marke in { $colour }, die mit dem Auto kreist wie die aus den Vorlagen, wurde dafür genommen
kit-floor-plan = der Laufzettel nennt keine Bodenmarken; Marken in { $colour } von der Größe der Vorlagen, die zu deren Plan passen, waren zu sehen und wurden als dessen Marken genommen: { $length } mm mal { $width } mm, Diagonalen { $diagonal } mm, der Start in der Mitte einer kurzen Seite

## Was auf dem Laufzettel seltsam aussieht

doubt-size = `{ $written }` ist ungewöhnlich; { $usual ->
    [between] üblich sind { $low } bis { $high }{ $unit }
   *[at-most] üblich sind höchstens { $high }{ $unit }
}; { $instead ->
    [none] miss es noch einmal
   *[other] meintest du `{ $instead }`?
}
doubt-turns = `string_mm = { $string }` auf einer Achse mit `axle_diameter_mm = { $axle }` wären { $turns } Umdrehungen: miss beides noch einmal
doubt-same-colour = Farben von { $mark } und { $other }: beide { $colour }, eines kann für das andere gehalten werden; besser für { $other }: { $better }
doubt-near-colour = Farben von { $mark } ({ $colour }) und { $other } ({ $othercolour }) liegen { $apart } Grad auseinander, wo Lampen und Farben 40 verlangen: eines kann für das andere gehalten werden; besser für { $other }: { $better }
mark-sticker = Aufkleber
mark-wheel = Radmarke
mark-axle = Achsmarke
mark-floor = Bodenmarke
colour-magenta = Magenta
colour-red = Rot
colour-orange = Orange
colour-yellow = Gelb
colour-green = Grün
colour-cyan = Cyan
colour-blue = Blau
colour-purple = Violett
size-unit-length = {" "}Millimeter
size-unit-mass = {" "}Gramm
size-unit-force = {" "}Newton
size-unit-short-time = {" "}Millisekunden
size-unit-angle = {" "}Grad
size-unit-frame-rate = {" "}Bilder je Sekunde
size-unit-pixels = {" "}Pixel
size-unit-time = {" "}Sekunden
size-unit-none = {""}

## Was mit der Datei nicht stimmte

damage-truncated = { $bytes ->
    [one] die Datei ist abgeschnitten: am Ende fehlt { $bytes } Byte
   *[other] die Datei ist abgeschnitten: am Ende fehlen { $bytes } Bytes
}
damage-packets = { $count ->
    [one] { $count } Paket des Bilds ließ sich nicht dekodieren
   *[other] { $count } Pakete des Bilds ließen sich nicht dekodieren
}
damage-spoilt = { $count ->
    [one] { $count } Bild durch kaputte Daten verdorben, weggelassen
   *[other] { $count } Bilder durch kaputte Daten verdorben, weggelassen
}
damage-untimed = { $count ->
    [one] { $count } Bild ohne Zeit, weggelassen
   *[other] { $count } Bilder ohne Zeit, weggelassen
}
damage-unordered = { $count ->
    [one] { $count } Bild nicht später als das davor, weggelassen
   *[other] { $count } Bilder nicht später als das davor, weggelassen
}
damage-late = { $count ->
    [one] { $count } Bild mehr als einen Tag nach dem ersten, weggelassen
   *[other] { $count } Bilder mehr als einen Tag nach dem ersten, weggelassen
}
damage-changed = { $count ->
    [one] { $count } Bild von anderer Größe oder anderem Pixelformat, weggelassen
   *[other] { $count } Bilder von anderer Größe oder anderem Pixelformat, weggelassen
}
damage-fewer = die Datei verspricht { $promised } Bilder, aber nur { $decoded } ließen sich dekodieren
damage-repeated = die Schnittliste der Datei wiederholt einen Teil der Aufnahme, also sind ihre Zeiten nicht die des Autos
damage-cut = die Schnittliste der Datei lässt einen Teil der Aufnahme weg, also springt dort die Zeit
damage-speed = die Schnittliste der Datei spielt einen Teil der Aufnahme mit dem { $rate }-Fachen ihrer Geschwindigkeit
damage-pixels = die Datei sagt, dass ihre Pixel nicht quadratisch sind (Breite zu Höhe { $ratio })

## Was zu den Dateien zu wissen ist

note-no-poster = kein Poster: { $why }
note-no-sound = das Video mit Messwerten hat keinen Ton: { $why }
note-sound-slow = Ton bleibt nur bei voller Geschwindigkeit erhalten
note-sound-form = sein Ton hat eine Form, die in MP4-Dateien nicht passt
note-sound-unread = sein Ton ließ sich nicht lesen
note-no-h264 = kein H.264-Kodierer ist installiert: das Video mit Messwerten ist MPEG-4 Teil 2, das manche Browser nicht abspielen
demo-says = Ein Lauf des Bastelvereins in der Hafenstraße, gezeichnet aus bekannter Bewegung:
place-results = Ergebnisse: { $path }
place-clip = Video mit Messwerten: { $path }
place-report = Bericht: { $path }
place-poster = Poster: { $path }
