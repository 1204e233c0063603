// The printed parts of the spool. Sizes that the host reckons with (bore, outer diameter, distances) are not written
// here: render.py passes them in from the spool file of the package. Everything in millimetres, as slicers expect.
//
//   openscad -D 'part="carrier"' -D bore=63 -D pipe_outer=75 ... -o carrier.stl spool.scad

part = "carrier";      // carrier, saddle, straightener, adapter, plate_holder, plate
bore = 0;              // bore of the pipe
pipe_outer = 0;        // outer diameter of the pipe
plate_hole = 0;        // hole of one plate
cut = false;           // for the pictures: a quarter taken out, so that the inside is seen
hose_outer = 35;       // outside of the hose cuff that is pushed in

wall = 3;              // thinnest load-bearing wall
socket_depth = 28;     // pipe in socket
slide = 0.35;          // play on the diameter of a push-fit, printed in PETG; sealed with tape or grease
rotor_diameter = bore - 3;   // 1.5 mm all round
shaft_bore = 3.1;      // steel pin of 3 mm
tap_bore = 1.5;        // pressure tap, flush with the wall: at most a twentieth of the pipe
tube_bore = 4;         // silicone tube to the sensor
plate_side = pipe_outer + 12;
plate_thick = 2;
$fn = 120;
tiny = 0.01;

module socket(length) {                 // takes the pipe from below, up to a shoulder
    difference() {
        cylinder(d = pipe_outer + slide + 2 * wall, h = length);
        translate([0, 0, -tiny]) cylinder(d = pipe_outer + slide, h = length + 2 * tiny);
    }
}

// Rotor carrier: two sockets, between them the bore with a three-armed spider for the rotor's pin and a pocket for the
// Hall switch in the wall. Arms are thin along the flow and stand behind the rotor.
module carrier() {
    middle = 34;
    total = middle + 2 * socket_depth;
    difference() {
        union() {
            socket(socket_depth);
            translate([0, 0, socket_depth]) cylinder(d = pipe_outer + slide + 2 * wall, h = middle);
            translate([0, 0, total - socket_depth]) socket(socket_depth);
            translate([-9, bore / 2 + 1, socket_depth + 6]) cube([18, pipe_outer / 2 - bore / 2 + 7, 18]);
        }
        translate([0, 0, socket_depth - tiny]) cylinder(d = bore, h = middle + 2 * tiny);
        // pocket for the Hall switch, 1.6 mm of wall left towards the air, open to the outside
        translate([-2.6, bore / 2 + 1.6, socket_depth + 9]) cube([5.2, pipe_outer / 2, 12]);
    }
    translate([0, 0, socket_depth + middle - 8]) difference() {
        union() {
            cylinder(d = 12, h = 8);
            for (a = [0, 120, 240]) rotate([0, 0, a + 30]) translate([0, -1, 0]) cube([bore / 2 + 1, 2, 8]);
        }
        translate([0, 0, -tiny]) cylinder(d = shaft_bore, h = 8 - 1.6);   // closed behind: the pin cannot wander
    }
}

// Saddle for the pressure tap: clamped on the pipe with two cable ties, its foot glued around the drilled hole.
module saddle() {
    outer = pipe_outer / 2;
    difference() {
        union() {
            intersection() {
                difference() {
                    cylinder(r = outer + 4, h = 36, center = true);
                    cylinder(r = outer + 0.1, h = 37, center = true);
                }
                translate([0, outer, 0]) cube([40, 30, 36], center = true);
            }
            translate([0, outer + 3, 0]) rotate([-90, 0, 0]) cylinder(d = 10, h = 6);
            translate([0, outer + 8, 0]) rotate([-90, 0, 0]) cylinder(d1 = tube_bore + 1.6, d2 = tube_bore + 0.4, h = 10);
            translate([0, outer + 14, 0]) rotate([-90, 0, 0]) cylinder(d1 = tube_bore + 1.8, d2 = tube_bore + 0.2, h = 4);
        }
        translate([0, outer - 2, 0]) rotate([-90, 0, 0]) cylinder(d = tap_bore, h = 24);
        for (z = [-12, 12]) translate([0, 0, z]) rotate_extrude() translate([outer + 2.6, -2]) square([3, 4]);
    }
}

// Flow straightener: hexagonal cells, one bore long, pushed into the pipe where it begins.
module straightener() {
    cell = 9;
    web = 1;
    pitch = cell + web;
    height = bore;
    difference() {
        cylinder(d = bore - slide, h = height);
        intersection() {
            translate([0, 0, -tiny]) cylinder(d = bore - slide - 2.4, h = height + 2 * tiny);
            for (row = [-5:5]) for (col = [-5:5])
                translate([col * pitch + (row % 2) * pitch / 2, row * pitch * sqrt(3) / 2, -tiny])
                    rotate([0, 0, 30]) cylinder(d = cell / cos(30), h = height + 2 * tiny, $fn = 6);
        }
    }
}

// From hose cuff to pipe: the cone opens by 7 degrees on each side at the most, so that the flow does not part.
module adapter() {
    small = hose_outer - 2 * 2.5;                      // bore of the hose cuff, near enough
    cone = (bore - small) / 2 / tan(7);
    cuff = 30;
    rotate_extrude() difference() {
        polygon([
            [small / 2, cuff], [hose_outer / 2 + slide / 2, cuff], [hose_outer / 2 + slide / 2, 0],
            [hose_outer / 2 + slide / 2 + wall, 0], [hose_outer / 2 + wall + slide / 2, cuff + 4],
            [pipe_outer / 2 + slide / 2 + wall, cuff + cone], [pipe_outer / 2 + slide / 2 + wall, cuff + cone + socket_depth],
            [pipe_outer / 2 + slide / 2, cuff + cone + socket_depth], [pipe_outer / 2 + slide / 2, cuff + cone],
            [bore / 2, cuff + cone],
        ]);
    }
}

// Holds one drilled plate square at the end of the line; the plate slides in from the side, pressure closes it.
module plate_holder() {
    depth = 6 + plate_thick + 4;
    difference() {
        union() {
            socket(socket_depth);
            translate([-(plate_side / 2 + 4), -(plate_side / 2 + 4), socket_depth]) cube([plate_side + 8, plate_side + 8, depth]);
        }
        translate([0, 0, socket_depth - tiny]) cylinder(d = bore, h = depth + 1);
        translate([-(plate_side + 0.6) / 2, -(plate_side + 0.6) / 2, socket_depth + 6])
            cube([plate_side + 0.6 + 10, plate_side + 0.6, plate_thick + 0.4]);
    }
}

// One plate. Its edge stays sharp on the side that meets the air (down here): print that side on glass, or better drill
// metal. The far side is countersunk so that a land of half a millimetre is left and the jet touches nothing.
module plate() {
    land = 0.5;
    difference() {
        translate([-plate_side / 2, -plate_side / 2, 0]) cube([plate_side, plate_side, plate_thick]);
        if (plate_hole > 0) {
            translate([0, 0, -tiny]) cylinder(d = plate_hole, h = plate_thick + 2 * tiny);
            translate([0, 0, land])
                cylinder(d1 = plate_hole, d2 = plate_hole + 2 * (plate_thick - land) + tiny, h = plate_thick - land + tiny);
        }
        translate([-plate_side / 2 + 4, -plate_side / 2 + 4, plate_thick - 0.6])
            linear_extrude(1) text(str(plate_hole), size = 7);
    }
}

assert(bore > 0 && pipe_outer > bore, "pass bore and pipe_outer: python hardware/spool/render.py does");
if (part == "carrier" && cut) difference() { carrier(); translate([0, 0, -1]) rotate([0, 0, -72]) cube(200); }
else if (part == "carrier") carrier();
else if (part == "saddle") saddle();
else if (part == "straightener") straightener();
else if (part == "adapter") adapter();
else if (part == "plate_holder") plate_holder();
else if (part == "plate") plate();
else assert(false, str("no such part: ", part));
