// Plate holder: a flange on the pipe, a flat gasket on its face, the plate, and a ring that four screws press on it.
// The gasket is on the pressure side. Plates slide in from above between the screws when the wing nuts are loose.

module screw_circles(d) {
    for (x = [-1, 1], y = [-1, 1]) translate([x * screw_x, y * screw_y]) circle(d = d, $fn = 36);
}

module flange_outline() {
    hull() { screw_circles(screw + 9); circle(d = plate_width + 10); }
}

// Sealing face down on the bed: the smoothest face of the print.
module plate_holder() {
    inside = socket_inner / 2;
    difference() {
        union() {
            linear_extrude(flange) difference() { flange_outline(); circle(d = bore); screw_circles(screw + 0.5); }
            rotate_extrude() polygon([
                [bore / 2, 0.5], [bore / 2, flange], [inside, flange], [inside, flange + socket_depth],
                [inside + wall, flange + socket_depth], [inside + wall, 0.5],
            ]);
        }
        translate([0, 0, flange - 3.6]) linear_extrude(flange) for (x = [-1, 1], y = [-1, 1])
            translate([x * screw_x, y * screw_y]) circle(d = (nut_across + 0.4) / cos(30), $fn = 6);
    }
}

// Pressing face up. The plate rests on the stop.
module plate_ring() {
    linear_extrude(ring) difference() { flange_outline(); circle(d = bore); screw_circles(screw + 0.5); }
    half = min(10, plate_width / 8);
    translate([-half, -plate_width / 2 - 3.2, ring - tiny]) cube([2 * half, 3, stop_height + tiny]);
}

module plate_outline() {
    translate([-plate_width / 2, -plate_width / 2]) square(plate_width);
    translate([-tab_width / 2, plate_width / 2 - 1]) square([tab_width, tab_length + 1]);
}

// The face that meets the air is down: its edge stays sharp. The far side is countersunk, so that the jet touches nothing.
module plate() {
    difference() {
        linear_extrude(plate_thick) plate_outline();
        if (plate_hole > 0) rotate_extrude() polygon([
            [0, -1], [plate_hole / 2, -1], [plate_hole / 2, plate_land],
            [plate_hole / 2 + plate_thick - plate_land + 1, plate_thick + 1], [0, plate_thick + 1],
        ]);
        translate([0, plate_width / 2 + tab_length / 2, plate_thick - 0.6]) linear_extrude(1)
            text(plate_hole > 0 ? str(plate_hole) : "blind", size = min(7, tab_width / 4), halign = "center", valign = "center", $fn = 8);
    }
}

module gasket() {
    linear_extrude(gasket_thick) difference() { circle(d = gasket_outer); circle(d = gasket_inner); }
}
