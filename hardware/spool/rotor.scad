// Vane rotor with two ball bearings in its hub and one magnet at the tip of each vane, and the nose cap before it.
// Both are printed with the downstream face on the bed.

function rotor_hub() = bearing_outer / 2 + 2;

module blades() {
    circle(r = rotor_hub(), $fn = 48);
    for (i = [0 : vanes - 1]) rotate([0, 0, 360 / vanes * i])
        translate([0, -vane_thick / 2]) square([bore / 2 - tip_gap - 0.3, vane_thick]);
}

// Cross-section of the pods at the tips. The middle of a pod is where its vane is at the height of the magnet.
function pod_turn() = 360 * (magnet_floor + magnet_diameter / 2) / vane_pitch;
module pods(width, inner, outer) {
    intersection() {
        difference() { circle(r = outer); circle(r = inner); }
        for (i = [0 : vanes - 1]) rotate([0, 0, 360 / vanes * i + pod_turn()])
            translate([0, -width / 2]) square([bore, width]);
    }
}

module bearing_bore() {
    seat = bearing_outer / 2 + 0.05;
    middle = 3.4;
    depth = bearing_width + 0.2;
    rotate_extrude($fn = 48) polygon([
        [0, -tiny], [seat, -tiny], [seat, depth], [middle, depth + steep * (seat - middle)],
        [middle, rotor_height - depth], [seat, rotor_height - depth], [seat, rotor_height + tiny], [0, rotor_height + tiny],
    ]);
}

module rotor() {
    tip = bore / 2 - tip_gap;
    high = magnet_floor + magnet_diameter + 1.5;
    difference() {
        union() {
            linear_extrude(rotor_height, twist = -360 * rotor_height / vane_pitch, slices = ceil($fn / 5)) blades();
            linear_extrude(high) pods(pod_width, tip - pod_depth, tip);
        }
        bearing_bore();
        translate([0, 0, magnet_floor]) linear_extrude(rotor_height) magnet_slots();
    }
}

// Slots open upwards; the magnet is glued in against the outer wall.
module magnet_slots() {
    tip = bore / 2 - tip_gap;
    for (i = [0 : vanes - 1]) rotate([0, 0, 360 / vanes * i + pod_turn()])
        translate([tip - pod_skin - magnet_thick - 0.2 - magnet_diameter * magnet_diameter / 8 / tip, -magnet_diameter / 2 - 0.1])
            square([magnet_thick + 0.2, magnet_diameter + 0.2]);
}

// Glued to the front end of the pin, which it takes up to play_of_rotor before the front bearing.
module nose() {
    hole = pin / 2 + 0.05;
    wide = rotor_hub();
    base = boss_height + steep * (wide - 2.5);
    deep = pin_length - pin_depth - boss_height - rotor_height - 0.3 + 0.5;   // 0.3 mm of play, 0.5 mm for glue
    rotate_extrude($fn = 48) polygon([
        [hole, 0], [2.5, 0], [2.5, boss_height], [wide, base],
        for (a = [10 : 10 : 80]) [wide * cos(a), base + wide * sin(a)],
        [0, base + wide], [0, deep + steep * hole], [hole, deep],
    ]);
}
